/** Whatever happens in whatever order: nothing is lost, no limit is passed, and neither restarts nor batches matter. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { KnownEntry } from '../../src/notify/journal-page.js';
import { newState, readState, writeState, type Outgoing } from '../../src/notify/notify-state.js';
import { planMessages } from '../../src/notify/plan-messages.js';
import { settleDelivery } from '../../src/notify/settle-delivery.js';
import { entry, notifyPlan, route } from './story.js';

const START = Date.parse('2026-10-24T18:00:00Z');
const HOUR_MS = 3_600_000;
const BURST = 3;
const PER_HOUR = 6;
const plan = notifyPlan(
  [
    route('shift', {
      burst: BURST,
      messagesPerHour: PER_HOUR,
      escalateTo: 'boss',
      tellAcknowledgements: true,
    }),
    route('day', {
      ...{ outside: 'wait', burst: BURST, messagesPerHour: PER_HOUR },
      windows: [{ days: [0, 1, 2, 3, 4, 5, 6], from: 360, to: 1_080 }],
    }),
    route('boss', { onlyEscalated: true, burst: BURST, messagesPerHour: PER_HOUR }),
  ],
  { queueMax: 10_000 },
);

interface Event {
  readonly afterMs: number;
  readonly word: 'raise' | 'return' | 'ack' | 'shelve' | 'notice';
  readonly subject: string;
}

const events = fc.array(
  fc.record<Event>({
    afterMs: fc.oneof(
      fc.constant(0),
      fc.integer({ min: 1, max: 60_000 }),
      fc.integer({ min: 1, max: 2 * HOUR_MS }),
    ),
    word: fc.constantFrom('raise', 'raise', 'return', 'ack', 'shelve', 'notice'),
    subject: fc.constantFrom(
      'pump-1.high-rate',
      'pump-2.low-rate',
      'fan-a.medium-clock',
      'pump-3.high-clock',
    ),
  }),
  { maxLength: 40 },
);

function date(list: readonly Event[], words: readonly string[]): KnownEntry[] {
  let at = START;
  return list
    .filter(({ word }) => words.includes(word))
    .map(({ afterMs, word, subject }, index) => entry(index + 1, (at += afterMs), word, subject));
}

interface Ran {
  readonly messages: readonly Outgoing[];
  readonly state: string;
}

/** Looks when something comes and when the planner wished to; `everyMs`: besides, so often. Each message is delivered at once. */
function run(entries: readonly KnownEntry[], isRestarted: boolean, everyMs: number | null): Ran {
  const messages: Outgoing[] = [];
  let state = newState(0);
  const end = START + 40 * 2 * HOUR_MS + 48 * HOUR_MS;
  let next = 0;
  let now = START;
  for (let wakeAt: number | null = START; ;) {
    const due = entries[next]?.at ?? Infinity;
    now = Math.min(due, wakeAt ?? Infinity, everyMs === null ? Infinity : now + everyMs);
    if (now > end) return { messages, state: writeState(state) };
    const fresh: KnownEntry[] = [];
    while (entries[next] !== undefined && entries[next]!.at <= now) fresh.push(entries[next++]!);
    if (isRestarted) state = readState(writeState(state))!;
    ({ wakeAt } = planMessages(state, fresh, plan, now));
    if (wakeAt !== null && wakeAt <= now) throw new Error('it would never sleep');
    for (const message of state.outbox) {
      messages.push(message);
      settleDelivery(state, message.id, 'email', { kind: 'delivered', refused: [], later: [] }, plan, now);
    }
  }
}

describe('the planner', () => {
  it('names every alarm that was announced and not hidden, on each route that takes it', () => {
    fc.assert(
      fc.property(events, (list) => {
        const entries = date(list, ['raise', 'return', 'ack', 'notice']);
        const { messages } = run(entries, false, null);
        for (const name of ['shift', 'day']) {
          for (const { id, subject, what } of entries) {
            if (what !== 'raised') continue;
            const items = messages.filter((one) => one.route === name).flatMap((one) => one.items);
            const told = items.some(
              (item) => item.alarm === subject && item.isNew && (item.raised ?? 0) >= id,
            );
            expect(told, `${name}: ${subject} of entry ${id}`).toBe(true);
          }
        }
      }),
      { numRuns: 150 },
    );
  });

  it('keeps within its limit in any hour', () => {
    fc.assert(
      fc.property(events, (list) => {
        const { messages } = run(date(list, ['raise', 'return', 'ack', 'shelve']), false, null);
        for (const name of plan.routes.keys()) {
          const times = messages.filter((one) => one.route === name).map(({ at }) => at);
          for (const from of times) {
            const within = times.filter((at) => at >= from && at < from + HOUR_MS).length;
            expect(within).toBeLessThanOrEqual(BURST + PER_HOUR);
          }
        }
      }),
      { numRuns: 100 },
    );
  });

  it('says the same with a restart at each step, and when it is asked more often than it wished', () => {
    fc.assert(
      fc.property(events, fc.integer({ min: 20_000, max: 400_000 }), (list, everyMs) => {
        const entries = date(list, ['raise', 'return', 'ack', 'shelve', 'notice']);
        const plain = run(entries, false, null);
        expect(run(entries, true, null)).toEqual(plain);
        expect(run(entries, false, everyMs).messages).toEqual(plain.messages);
      }),
      { numRuns: 60 },
    );
  });

  it('takes an entry once, however often it is handed in', () => {
    fc.assert(
      fc.property(events, (list) => {
        const entries = date(list, ['raise', 'return', 'ack', 'shelve', 'notice']);
        const once = newState(0);
        planMessages(once, entries, plan, START);
        const kept = writeState(once);
        planMessages(once, entries, plan, START);
        expect(writeState(once)).toBe(kept);
      }),
      { numRuns: 100 },
    );
  });

  it('does not tell the raise of what is hidden while it waits', () => {
    fc.assert(
      fc.property(events, (list) => {
        const entries = date(
          list.map((one) => ({ ...one, afterMs: 0 })),
          ['raise', 'return', 'ack', 'shelve'],
        );
        const { messages } = run(entries, false, null);
        for (const name of ['pump-1.high-rate', 'pump-2.low-rate']) {
          if (entries.findLast(({ subject }) => subject === name)?.what !== 'shelved') continue;
          const items = messages.flatMap((one) => one.items).filter(({ alarm }) => alarm === name);
          expect(items.filter(({ isNew }) => isNew)).toEqual([]);
        }
      }),
      { numRuns: 150 },
    );
  });
});
