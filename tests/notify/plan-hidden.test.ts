/** Alarms that are hidden after they were announced, and come back into sight: the journal does not announce them anew; and floods. */
import { describe, expect, it } from 'vitest';
import type { NotifyPlan } from '../../src/notify/notify-plan.js';
import { notifyPlan, route, Story } from './story.js';

const MONDAY = Date.parse('2026-03-02T06:00:00Z');
const LOW_RESPOND_H = 8;

function check(plan: NotifyPlan, table: string, start = MONDAY): void {
  const { told, expected } = new Story(plan, start).tell(table);
  expect(told).toBe(expected);
}

describe('an alarm that was hidden while its message waited', () => {
  const plan = notifyPlan([route('shift')]);

  it('by a group that it outlasts is told when the group has ended', () => {
    check(
      plan,
      `
      0 s   | raise pump-1.low-silent                                | -
      10 s  | group pump-1.low-silent, raise zone-hall.low-silent    | -
      40 s  | -                                                      | shift[zone-hall.low-silent raised]
      300 s | return zone-hall.low-silent, ungroup pump-1.low-silent | -
      330 s | - | shift[pump-1.low-silent raised; zone-hall.low-silent returned]
      400 s | return pump-1.low-silent                               | -
      430 s | -                                                      | shift[pump-1.low-silent returned]
    `,
    );
  });

  it('by a shelf is told on each route that had not told it, and on no other', () => {
    const windows = [{ days: [1], from: 480, to: 1_080 }];
    check(
      notifyPlan([route('shift'), route('day', { windows, outside: 'wait' })]),
      `
      0 s    | raise pump-1.low-rate    | -
      30 s   | -                        | shift[pump-1.low-rate raised]
      60 s   | shelve pump-1.low-rate   | -
      1 h    | unshelve pump-1.low-rate | -
      3 h    | -                        | day[pump-1.low-rate raised]
    `,
    );
  });

  it('is not told when it returned meanwhile, or when somebody has acknowledged it', () => {
    check(
      plan,
      `
      0 s   | raise pump-1.low-rate, shelve pump-1.low-rate | -
      60 s  | return pump-1.low-rate                        | -
      90 s  | raise pump-2.low-rate, shelve pump-2.low-rate | -
      100 s | ack pump-2.low-rate                           | -
      300 s | -                                             | -
    `,
    );
  });
});

it('the time to respond begins again when an alarm comes back into sight; who was told already is not told again', () => {
  const plan = notifyPlan([
    route('shift', { escalateTo: 'boss' }),
    route('boss', { onlyEscalated: true, escalateTo: 'duty' }),
    route('duty', { onlyEscalated: true }),
  ]);
  check(
    plan,
    `
    0 s  | raise pump-1.low-rate    | -
    30 s | -                        | shift[pump-1.low-rate raised]
    1 h  | shelve pump-1.low-rate   | -
    9 h  | unshelve pump-1.low-rate | -
    ${8 + LOW_RESPOND_H} h | -      | -
    ${9 + LOW_RESPOND_H} h | -      | -
    18 h | -                        | boss[pump-1.low-rate escalated]
    19 h | shelve pump-1.low-rate   | -
    20 h | unshelve pump-1.low-rate | -
    ${20 + LOW_RESPOND_H} h | -     | -
    29 h | -                        | duty[pump-1.low-rate escalated]
    60 h | -                        | -
  `,
  );
});

it('a flood is told where its kind is taken, and its end; nobody can acknowledge it, so it does not escalate', () => {
  const routes = [
    route('shift', { escalateTo: 'boss' }),
    route('rates', { kinds: ['rate'] }),
    route('boss', { onlyEscalated: true }),
  ];
  check(
    notifyPlan(routes),
    `
    0 s  | flood site.medium-flood | -
    30 s | -                       | shift[site.medium-flood raised]
    1 h  | calm site.medium-flood  | -
    2 h  | -                       | shift[site.medium-flood returned]
    60 h | -                       | -
  `,
  );
});

it('who was told of an alarm before a group came to stand for it hears that it has ended; not of what is shelved', () => {
  check(
    notifyPlan([route('shift')]),
    `
    0 s   | raise pump-1.low-silent, raise pump-2.low-rate          | -
    30 s  | - | shift[pump-1.low-silent raised; pump-2.low-rate raised]
    60 s  | group pump-1.low-silent, raise zone-hall.low-silent     | -
    90 s  | shelve pump-2.low-rate                                  | shift[zone-hall.low-silent raised]
    300 s | leave pump-1.low-silent, return zone-hall.low-silent    | -
    301 s | vanish pump-2.low-rate                                  | -
    330 s | - | shift[pump-1.low-silent returned; zone-hall.low-silent returned]
    900 s | -                                                       | -
  `,
  );
});
