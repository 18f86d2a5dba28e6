/** What is told to whom and when: stories that a practitioner can check by eye. */
import { describe, expect, it } from 'vitest';
import type { NotifyPlan } from '../../src/notify/notify-plan.js';
import { notifyPlan, route, Story } from './story.js';

const MONDAY = Date.parse('2026-03-02T06:00:00Z');

function check(plan: NotifyPlan, table: string, start = MONDAY): Story {
  const story = new Story(plan, start);
  const { told, expected } = story.tell(table);
  expect(told).toBe(expected);
  return story;
}

describe('grouping', () => {
  const plan = notifyPlan([route('shift')]);

  it('what comes within the wait of the first goes into one message, the most urgent first', () => {
    check(
      plan,
      `
      0 s  | raise pump-1.low-rate   | -
      29 s | raise pump-2.high-rate  | -
      30 s | -                       | shift[pump-2.high-rate raised; pump-1.low-rate raised]
      31 s | raise pump-3.low-rate   | -
      61 s | -                       | shift[pump-3.low-rate raised]
      99 s | -                       | -
    `,
    );
  });

  it('what came and went within the wait says so, in one line', () => {
    const story = check(
      plan,
      `
      0 s  | raise pump-1.low-rate                               | -
      9 s  | return pump-1.low-rate                              | -
      10 s | raise pump-2.low-rate, return pump-2.low-rate       | -
      11 s | raise pump-2.low-rate                               | -   # and came again
      30 s | -  | shift[pump-2.low-rate raised; pump-1.low-rate raised-and-returned]
    `,
    );
    expect(story.state.standing.has('pump-1.low-rate')).toBe(false);
  });

  it('returns and acknowledgements are told where that is wished, to those who were told of the raise', () => {
    const routes = [
      route('all', { tellAcknowledgements: true }),
      route('raises', { tellReturns: false }),
      route('high', { priorities: ['high'] }),
    ];
    check(
      notifyPlan(routes),
      `
      0 s  | raise pump-1.low-rate  | -
      30 s | -                      | all[pump-1.low-rate raised] raises[pump-1.low-rate raised]
      40 s | ack pump-1.low-rate    | -
      70 s | -                      | all[pump-1.low-rate acknowledged]
      80 s | return pump-1.low-rate | -
      110 s | -                     | all[pump-1.low-rate returned]
    `,
    );
  });

  it('what is not announced is not told: shelved, suppressed, late and over, notices', () => {
    check(
      plan,
      `
      0 s  | late pump-1.low-rate, notice pump-2.low-rate, return pump-1.low-rate | -
      60 s | -                                                                    | -
      61 s | raise pump-3.low-rate | -
      70 s | shelve pump-3.low-rate | -   # by a person, before it was told
      99 s | -                     | -
      200 s | return pump-3.low-rate | -
      300 s | -                    | -
    `,
    );
  });

  it('what is announced only after a wait of the gateway is told then; what is grouped, by the alarm that stands for it', () => {
    check(
      plan,
      `
      0 s  | late pump-1.low-silent, late pump-2.low-silent, late pump-3.low-silent | -
      30 s | announce pump-1.low-silent | -
      31 s | group pump-2.low-silent, group pump-3.low-silent, raise zone-hall.low-silent | -
      60 s | - | shift[pump-1.low-silent raised; zone-hall.low-silent raised]
    `,
    );
  });
});

describe('who', () => {
  it('by priority, zone, motor and kind', () => {
    const routes = [
      route('urgent', { priorities: ['high'] }),
      route('fans', { zones: ['fan'] }),
      route('one', { motors: ['pump-1', 'gateway'] }),
      route('rates', { kinds: ['rate'] }),
    ];
    check(
      notifyPlan(routes, { waitMs: 0 }),
      `
      0 s | raise pump-1.high-rate | urgent[pump-1.high-rate raised] one[pump-1.high-rate raised] rates[pump-1.high-rate raised]
      1 s | raise fan-a.low-clock  | fans[fan-a.low-clock raised]
      2 s | raise gateway.low-full | one[gateway.low-full raised]
      3 s | raise pump-2.low-clock | -
    `,
    );
  });
});

describe('when', () => {
  const WEEKDAYS = [1, 2, 3, 4, 5];
  const day = { days: WEEKDAYS, from: 6 * 60, to: 18 * 60 };
  const night = { days: WEEKDAYS, from: 18 * 60, to: 6 * 60 };

  it('a day route and a night route take turns; the window over midnight belongs to the day on which it begins', () => {
    const routes = [route('day', { windows: [day] }), route('night', { windows: [night] })];
    check(
      notifyPlan(routes, { waitMs: 0 }),
      `
      0 h  | raise pump-1.low-rate  | day[pump-1.low-rate raised]     # Monday 06:00
      12 h | raise pump-2.low-rate  | night[pump-2.low-rate raised]   # 18:00
      23 h | raise pump-3.low-rate  | night[pump-3.low-rate raised]   # Tuesday 05:00
      24 h | raise pump-4.low-rate  | day[pump-4.low-rate raised]
      114 h | raise pump-5.low-rate | night[pump-5.low-rate raised]   # Saturday 00:00, of Friday's night
      121 h | raise pump-6.low-rate | -                               # Saturday 07:00
    `,
    );
  });

  it('what waits for the window is told when it opens, with what became of it', () => {
    const routes = [route('day', { windows: [day], outside: 'wait' })];
    const table = `
      13 h | raise pump-1.low-rate, raise pump-2.low-rate | -
      20 h | return pump-2.low-rate                       | -
      23.99 h | -                                         | -
      24 h | - | day[pump-1.low-rate raised; pump-2.low-rate raised-and-returned]
    `;
    const story = check(notifyPlan(routes), table);
    expect(story.wakeAt).toBe(null);
  });

  it.each([
    ['into summer time', '2026-03-28T22:00:00Z', '2026-03-29T04:59:59Z', '2026-03-29T05:00:00Z'],
    ['into winter time', '2026-10-24T21:00:00Z', '2026-10-25T05:59:59Z', '2026-10-25T06:00:00Z'],
  ])(
    'the night of the clock change %s is open from 22:00 to 06:00 by the clock on the wall',
    (_, from, last, to) => {
      const windows = [{ days: [0, 1, 2, 3, 4, 5, 6], from: 22 * 60, to: 6 * 60 }];
      const tell = (at: string): string =>
        new Story(notifyPlan([route('night', { windows })], { waitMs: 0 }), 0).step(
          Date.parse(at),
          'raise a.low-b',
        );
      expect(tell(new Date(Date.parse(from) - 1).toISOString())).toBe('-');
      expect(tell(from)).not.toBe('-');
      expect(tell(last)).not.toBe('-');
      expect(tell(to)).toBe('-');
    },
  );

  it('a window inside the hour that comes twice is open twice, one inside the missing hour not at all', () => {
    const windows = [{ days: [0], from: 60 + 30, to: 60 + 45 }];
    const tell = (at: string): boolean =>
      new Story(notifyPlan([route('r', { windows })], { waitMs: 0 }), 0).step(
        Date.parse(at),
        'raise a.low-b',
      ) !== '-';
    expect(['2026-10-25T00:30:00Z', '2026-10-25T01:00:00Z', '2026-10-25T01:30:00Z'].map(tell)).toEqual([
      true,
      false,
      true,
    ]);
    const minutes = Array.from({ length: 240 }, (_, i) => Date.parse('2026-03-29T00:00:00Z') + i * 60_000);
    expect(minutes.filter((at) => tell(new Date(at).toISOString()))).toEqual([]);
  });
});

describe('escalation', () => {
  const routes = [
    route('shift', { escalateTo: 'boss' }),
    route('boss', { onlyEscalated: true, escalateTo: 'duty', windows: [{ days: [6], from: 0, to: 60 }] }),
    route('duty', { onlyEscalated: true }),
  ];
  const plan = notifyPlan(routes, { waitMs: 10_000 });

  it('goes on from route to route while nobody acknowledges, at any hour', () => {
    check(
      plan,
      `
      0 s    | raise pump-1.high-rate | -
      10 s   | -                      | shift[pump-1.high-rate raised]
      599 s  | -                      | -
      600 s  | -                      | -
      610 s  | -                      | boss[pump-1.high-rate escalated]
      1200 s | -                      | -
      1210 s | -                      | duty[pump-1.high-rate escalated]
      9 h    | -                      | -
      10 h   | return pump-1.high-rate | -
      10.01 h | -  | shift[pump-1.high-rate returned] boss[pump-1.high-rate returned] duty[pump-1.high-rate returned]
    `,
    );
  });

  it.each(['ack', 'return', 'shelve'])('%s ends it', (word) => {
    const story = new Story(plan, MONDAY);
    story.step(MONDAY, 'raise pump-1.high-rate');
    story.step(MONDAY + 10_000, '-');
    story.step(MONDAY + 599_000, `${word} pump-1.high-rate`);
    const later = [600, 609, 620, 1_300].map((s) => story.step(MONDAY + s * 1_000, '-'));
    expect(later.join(' ')).not.toContain('escalated');
  });

  it('a return that latched still escalates', () => {
    const story = new Story(plan, MONDAY);
    story.step(MONDAY, 'raise pump-1.high-rate');
    story.step(MONDAY + 10_000, 'latch pump-1.high-rate');
    story.step(MONDAY + 600_000, '-');
    expect(story.step(MONDAY + 610_000, '-')).toContain('boss[');
  });

  it('goes on after a restart, and at once where its time came meanwhile', () => {
    const story = new Story(plan, MONDAY);
    story.step(MONDAY, 'raise pump-1.high-rate');
    story.step(MONDAY + 10_000, '-');
    story.step(MONDAY + 7_200_000, '-');
    expect(story.step(MONDAY + 7_210_000, '-')).toBe('boss[pump-1.high-rate escalated]');
  });
});

describe('the limit', () => {
  const plan = notifyPlan([route('shift', { burst: 2, messagesPerHour: 6 })], { waitMs: 0 });

  it('sums up in the next message what it holds up, loses nothing, and is journalled once', () => {
    const story = check(
      plan,
      `
      0 s   | raise pump-1.low-rate | shift[pump-1.low-rate raised]
      1 s   | raise pump-2.low-rate | shift[pump-2.low-rate raised]
      2 s   | raise pump-3.low-rate | -
      60 s  | raise pump-4.low-rate | -
      599 s | return pump-3.low-rate | -
      601 s | - | shift[pump-4.low-rate raised; pump-3.low-rate raised-and-returned]
      602 s | raise pump-5.low-rate | -
      2 h   | -                     | shift[pump-5.low-rate raised]
    `,
    );
    expect(story.notes).toEqual([
      'notification route shift: more than 2 messages at once or 6 an hour; what comes now waits and goes together in the next message',
    ]);
  });

  it('wakes when the next message may go', () => {
    const story = new Story(plan, MONDAY);
    for (const s of [0, 1, 2]) story.step(MONDAY + s * 1_000, `raise pump-${s}.low-rate`);
    expect(story.wakeAt).toBe(MONDAY + 600_000);
  });
});

describe('a storm', () => {
  it('of 1,000 alarms makes two messages that name every one', () => {
    const story = new Story(notifyPlan([route('shift')]), MONDAY);
    const raises = Array.from({ length: 1_000 }, (_, i) => `raise pump-${i}.low-rate`);
    for (let i = 0; i < 1_000; i += 100) story.step(MONDAY + i, raises.slice(i, i + 100).join(', '));
    const told = story.step(MONDAY + 30_000, '-');
    expect(told.match(/shift\[/g)).toHaveLength(2);
    expect(new Set(told.match(/pump-\d+\.low-rate/g)).size).toBe(1_000);
  });

  it('beyond what is listed, counts', () => {
    const story = new Story(notifyPlan([route('shift', { burst: 100 })]), MONDAY);
    const raises = Array.from({ length: 5_007 }, (_, i) => `raise pump-${i}.low-rate`).join(', ');
    story.step(MONDAY, raises);
    const told = story.step(MONDAY + 30_000, '-');
    expect(new Set(told.match(/pump-\d+\.low-rate/g)).size).toBe(5_000);
    expect(told).toContain(' +7]');
  });
});
