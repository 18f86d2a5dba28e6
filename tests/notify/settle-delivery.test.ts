/** What becomes of a message after an attempt, and what the journal hears of a channel. */
import { beforeEach, describe, expect, it } from 'vitest';
import { fitState, settleDelivery, type Outcome } from '../../src/notify/settle-delivery.js';
import { describeStatus } from '../../src/notify/notify-status.js';
import { notifyPlan, route, Story } from './story.js';

const NOW = Date.parse('2026-03-02T06:00:00Z');
const DELIVERED: Outcome = { kind: 'delivered', refused: [], later: [] };
const DOWN: Outcome = { kind: 'later', scope: 'channel', reason: 'ECONNREFUSED', retryAfterMs: null };
const plan = notifyPlan(
  [route('shift', { email: ['a@site.example', 'b@site.example'], webhook: 'desk', burst: 10 })],
  { waitMs: 0, queueMax: 3 },
);

let story: Story;
beforeEach(() => {
  story = new Story(plan, NOW);
  story.step(NOW, 'raise pump-1.low-rate');
});

function settle(
  channel: string,
  outcome: Outcome,
  at = NOW,
  id = story.state.outbox[0]!.id,
): readonly string[] {
  return settleDelivery(story.state, id, channel, outcome, plan, at);
}

describe('a message', () => {
  it('leaves when every channel has it', () => {
    expect(settle('email', DELIVERED)).toEqual([]);
    expect(story.state.outbox).toHaveLength(1);
    settle('webhook:desk', DELIVERED);
    expect(story.state.outbox).toEqual([]);
  });

  it('goes again to those recipients only whom the server wants asked again', () => {
    settle('email', { kind: 'delivered', refused: [], later: ['b@site.example'] });
    expect(story.state.outbox[0]?.email).toEqual(['b@site.example']);
    settle('email', DELIVERED);
    expect(story.state.outbox[0]?.email).toEqual([]);
  });

  it('stays as it is when the channel fails', () => {
    settle('email', DOWN);
    expect(story.state.outbox[0]?.email).toEqual(['a@site.example', 'b@site.example']);
  });
});

describe('the journal hears', () => {
  it('of a channel that fails for long, once, and once more when it works', () => {
    const times = [0, 60_000, 299_999, 300_000, 900_000];
    const notes = times.flatMap((ms) => settle('email', DOWN, NOW + ms));
    expect(notes).toEqual([
      'notification by email has been failing since 2026-03-02T06:00:00.000Z: ECONNREFUSED; messages wait',
    ]);
    expect(settle('email', DELIVERED, NOW + 901_000)).toEqual([
      'notification by email works again: nothing was lost',
    ]);
    expect(settle('webhook:desk', DELIVERED)).toEqual([]);
  });

  it('of a short trouble nothing', () => {
    expect([...settle('email', DOWN), ...settle('email', DELIVERED, NOW + 299_000)]).toEqual([]);
  });

  it('of a message that is refused for good at once, and how many there were when it works again', () => {
    const never: Outcome = { kind: 'never', reason: 'it answered with status 410', refused: [] };
    const { id } = story.state.outbox[0]!;
    expect(settle('webhook:desk', never)).toEqual([
      `notification by webhook:desk: message ${id} with 1 alarms was refused for good: it answered with status 410`,
    ]);
    story.step(NOW + 1, 'raise pump-2.low-rate');
    expect(settle('webhook:desk', never, NOW + 1, story.state.outbox[1]!.id)).toEqual([]);
    story.step(NOW + 2, 'raise pump-3.low-rate');
    expect(settle('webhook:desk', DELIVERED, NOW + 2, story.state.outbox[2]!.id)).toEqual([
      'notification by webhook:desk works again: 2 messages with about 2 alarms were refused or dropped meanwhile',
    ]);
  });

  it('of a recipient that is refused once, until it is taken again', () => {
    const refused: Outcome = {
      kind: 'delivered',
      refused: [{ to: 'b@site.example', reason: '550 no such user' }],
      later: [],
    };
    const next = (at: number, outcome: Outcome): readonly string[] => {
      story.step(at, `raise pump-${at}.low-rate`);
      return settle('email', outcome, at, story.state.outbox.at(-1)!.id);
    };
    expect(next(NOW + 1, refused)).toEqual([
      'the mail server refuses b@site.example: 550 no such user; it gets no messages until that is mended',
    ]);
    expect(next(NOW + 2, refused)).toEqual([]);
    expect(next(NOW + 3, DELIVERED)).toEqual([]);
    expect(next(NOW + 4, refused)).toHaveLength(1);
  });

  it('of what is dropped when too much waits, with its number', () => {
    for (let i = 1; i <= 4; i++) story.step(NOW + i, `raise pump-${i}.low-rate`);
    expect(story.state.outbox).toHaveLength(3);
    expect(story.notes).toContain(
      'notification by email: 1 of the oldest messages, about 1 alarms, dropped: more than 3 wait',
    );
    const [status] = describeStatus(plan, story.state, new Map([['email', idle]]), NOW).channels;
    expect(status).toMatchObject({ waiting: 3, lostMessages: 2 });
  });

  it('of what waited on a route or a channel that the new configuration does not have', () => {
    const none = notifyPlan([]);
    expect(fitState(story.state, none)[0]).toMatch(/^message shift-1-\w+ with 1 alarms went nowhere/);
    expect(story.state.outbox).toEqual([]);
    const other = new Story(notifyPlan([route('shift')]), NOW);
    other.step(NOW, 'raise pump-1.low-rate');
    expect(fitState(other.state, none)).toEqual([
      'notification route shift is gone; 1 alarms waited there untold',
    ]);
  });
});

const idle = { sent: 0, failed: 0, lastSuccessAt: null, lastErrorAt: null, lastError: '' };
