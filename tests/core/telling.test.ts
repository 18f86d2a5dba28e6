/** What is told follows from the messages alone, whatever batches they come in; and the journal of an alarm hangs together. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { AlarmAct, Fact } from '../../src/core/facts.js';
import type { Plan } from '../../src/core/plan.js';
import { openState } from '../../src/core/step.js';
import { Hall } from '../support/alarm-hall.js';
import { MemoryStore, runBatch } from '../support/memory-store.js';
import { rateAlarm } from '../support/plans.js';
import { seedRandom } from '../support/seeded-random.js';

const MOTORS = ['fan-1', 'fan-2', 'fan-3', 'fan-4'];
const RATE_ALARM = { onDelayMs: 60_000, offDelayMs: 60_000, windowMs: 120_000, setpointPerMin: 100 };

function openHall(): Hall {
  const rateAlarms = MOTORS.map((motor) => rateAlarm(`${motor}/de`, 100, RATE_ALARM));
  return new Hall({ motors: MOTORS, plan: { rateAlarms }, onDelayMs: 60_000 }).run(600);
}

type Random = () => number;

function pick<T>(random: Random, from: readonly T[]): T {
  return from[Math.floor(random() * from.length)]!;
}

/** Something befalls the hall: cables, a power feed, drives, rates. */
function befall(hall: Hall, random: Random): void {
  const sensor = pick(random, hall.sensors);
  const motor = pick(random, MOTORS);
  const fates: (() => void)[] = [
    () => hall.cut([sensor]),
    () => hall.mend([sensor]),
    () => hall.cut(hall.sensors),
    () => hall.mend(hall.sensors),
    () => hall.lost.add(motor),
    () => MOTORS.forEach((each) => hall.lost.add(each)),
    () => hall.lost.clear(),
    () => hall.pulses.set(`${motor}/de`, 60),
    () => hall.pulses.set(`${motor}/de`, 1),
  ];
  pick(random, fates)();
}

/** What the same messages make in batches of so many. */
function play(plan: Plan, facts: readonly Fact[], size: number): MemoryStore {
  const store = new MemoryStore();
  const state = openState(plan, null);
  for (let i = 0; i < facts.length; i += size)
    runBatch(plan, state, store, structuredClone(facts.slice(i, i + size)));
  return store;
}

function act(hall: Hall, random: Random): AlarmAct {
  const until = hall.now + 60_000 * Math.ceil(random() * 60);
  return pick<AlarmAct>(random, [
    { do: 'acknowledge' },
    { do: 'confirm' },
    { do: 'reset' },
    { do: 'shelve', until, once: true },
    { do: 'shelve', until, once: false },
    { do: 'unshelve' },
    { do: 'take-out-of-service' },
    { do: 'return-to-service' },
  ]);
}

/** Every entry of an alarm begins in the state in which the one before it ended, and the last one ended in the record's. */
function checkStates(hall: Hall): void {
  const states = new Map<string, string>();
  for (const { subject, from, to, what, kind } of hall.store.journal) {
    if (what === '' || !hall.store.alarms.has(subject)) continue;
    expect(`${subject} ${kind} ${what} from ${from}`).toBe(
      `${subject} ${kind} ${what} from ${states.get(subject) ?? 'normal'}`,
    );
    states.set(subject, to);
  }
  for (const [id, state] of states)
    expect(`${id} ${hall.store.alarms.get(id)!.state}`).toBe(`${id} ${state}`);
}

describe('batches', () => {
  it.each([1, 2, 3, 4, 5, 6])('of any size tell the same, seed %i', (seed) => {
    const random = seedRandom(seed);
    const hall = openHall();
    for (let i = 0; i < 40; i++) {
      befall(hall, random);
      hall.run(10 * Math.ceil(random() * 60));
    }
    const { plan, facts } = hall;
    const single = play(plan, facts, 1);
    expect(single.journal.filter(({ annunciated }) => annunciated).length).toBeGreaterThan(5);
    for (const size of [37, 1000]) {
      const batched = play(plan, facts, size);
      expect(batched.journal).toEqual(single.journal);
      expect(batched.alarms).toEqual(single.alarms);
    }
  });
});

describe('the journal of an alarm', () => {
  it('a member of a group that is shelved for one return ends its shelf from the state of its return', () => {
    const id = 'fan-1.de-no-readings';
    const hall = openHall();
    hall.cut(hall.sensors).run(180);
    expect(hall.store.alarms.get(id)).toMatchObject({ groupedUnder: 'zone-hall.zone-silent' });
    hall.act(id, { do: 'shelve', until: hall.now + 3_600_000, once: true });
    hall.mend(['fan-1/de']).run(60);
    const own = hall.store.journal.filter(({ subject }) => subject === id).slice(-2);
    expect(own.map(({ what, from, to }) => [what, from, to])).toEqual([
      ['returned', 'shelved', 'shelved'],
      ['shelf-expired', 'shelved', 'normal'],
    ]);
    checkStates(hall);
  });

  it('hangs together over any life', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1e6 }), (seed) => {
        const random = seedRandom(seed);
        const hall = openHall();
        for (let i = 0; i < 60; i++) {
          const dice = random();
          if (dice < 0.4) befall(hall, random);
          else if (dice < 0.9) {
            const known = [...hall.store.alarms.values()].filter(({ active }) => active || random() < 0.2);
            if (known.length > 0) hall.act(pick(random, known).id, act(hall, random));
          } else hall.restart(random() < 0.5 ? 0 : 600);
          hall.run(10 * Math.ceil(random() * 20));
        }
        checkStates(hall);
      }),
      { numRuns: 15, seed: 7 },
    );
  }, 120_000);

  it('hangs together when the past comes late', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1e6 }), (seed) => {
        const random = seedRandom(seed);
        const hall = openHall();
        for (let round = 0; round < 3; round++) {
          const sensor = pick(random, ['fan-1/de', 'fan-2/de']);
          hall.keptBack.set(sensor, []);
          for (let i = 0; i < 6; i++) {
            hall.pulses.set(sensor, random() < 0.5 ? 60 : 1);
            hall.run(600);
          }
          const id = `${sensor.replace('/', '.')}-rate-high`;
          if (random() < 0.5) hall.act(id, act(hall, random));
          hall.sendKept(sensor).run(10 * Math.ceil(random() * 60));
          hall.act(id, act(hall, random)).run(600);
        }
        checkStates(hall);
      }),
      { numRuns: 8, seed: 8 },
    );
  }, 120_000);
});
