/** Function checks that a person begins and ends, as stories: sparks near a sensor of a motor that stands. */
import { describe, expect, it } from 'vitest';
import type { CheckFact, DriveFact, Fact, ReadingFact } from '../../src/core/facts.js';
import { CHECK_MOST_MS } from '../../src/core/function-check.js';
import { openState } from '../../src/core/step.js';
import { CLASS_NAMES } from '../../src/core/words.js';
import { describeFinal, findImbalances } from '../support/final.js';
import { withTicks } from '../support/little-plant.js';
import { MemoryStore, reopen, runBatch } from '../support/memory-store.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

const START = 1_700_000_000_000;
const SENSOR = 'pump-1/de';
const plan = makePlan([motorPlan('pump-1')], [sensorPlan('pump-1', 'de'), sensorPlan('pump-1', 'nde')]);

const seconds = (s: number): number => START + s * 1000;

function reading(s: number, count: number, sensor = SENSOR): ReadingFact {
  return {
    ...{ kind: 'reading', sensor, device: 'SN-1', boot: 1, seq: s / 10, count, at: seconds(s) },
    ...{ upMs: null, temperatureC: null, check: false, receivedAt: seconds(s) + 50 },
  };
}

function check(act: CheckFact['act'], s: number, sensor = SENSOR): CheckFact {
  return { kind: 'check', sensor, act, who: 'J. Field', receivedAt: seconds(s) };
}

const standing: DriveFact = {
  ...{
    kind: 'drive',
    motor: 'pump-1',
    state: 'stopped',
    modulating: false,
    at: START,
    since: START - 3_600_000,
  },
  ...{ speedRpm: null, loadPct: null, switchingKhz: null, dcLinkV: null, receivedAt: START },
};

/** A reading every 10 s, five pulses each, from both sensors. */
function listReadings(until: number): ReadingFact[] {
  const facts: ReadingFact[] = [];
  for (let s = 0; s <= until; s += 10) facts.push(reading(s, s / 2), reading(s, s / 2, 'pump-1/nde'));
  return facts;
}

interface Way {
  readonly batch?: number;
  readonly restarts?: boolean;
  readonly delay?: (fact: Fact, index: number) => number;
}

function run(
  facts: readonly (ReadingFact | DriveFact | CheckFact)[],
  until: number,
  way: Way = {},
): MemoryStore {
  const delayed = facts
    .map((fact, i) => ({ ...fact, receivedAt: fact.receivedAt + (way.delay?.(fact, i) ?? 0) }))
    .sort((a, b) => a.receivedAt - b.receivedAt);
  const all = withTicks(delayed, 1000, 300_000);
  const store = new MemoryStore();
  let state = openState(plan, null);
  const size = way.batch ?? 100;
  for (let i = 0; i < all.length; i += size) {
    runBatch(plan, state, store, all.slice(i, i + size));
    if (way.restarts === true) state = reopen(plan, store);
  }
  for (let i = 0; i < 20; i++)
    runBatch(plan, state, store, [{ kind: 'tick', now: seconds(until + 14_400) + i * 60_000 }]);
  return store;
}

/** Ends of the increments in class `check`, in seconds. */
function listChecked(store: MemoryStore, sensor = SENSOR): number[] {
  return store
    .sortedIncrements(sensor)
    .filter((row) => CLASS_NAMES[row.class] === 'check')
    .map((row) => (row.to - START) / 1000);
}

describe('a function check that a person starts', () => {
  it('claims every increment of that sensor that it meets, and no other', () => {
    const facts = [standing, ...listReadings(300), check('begin', 104), check('end', 131)];
    const store = run(facts, 300);
    expect(listChecked(store)).toEqual([110, 120, 130, 140]);
    expect(listChecked(store, 'pump-1/nde')).toEqual([]);
    expect(findImbalances(store)).toEqual([]);
    const sums = [0, 0];
    for (const rollup of store.rollups.values()) {
      if (rollup.sensor !== SENSOR || rollup.period !== '1m') continue;
      sums[0]! += rollup.pulses[CLASS_NAMES.indexOf('check')]!;
      sums[1]! += rollup.ms[CLASS_NAMES.indexOf('check')]!;
    }
    expect(sums).toEqual([20, 40_000]);
  });

  it('is journalled with who began and ended it', () => {
    const store = run([standing, ...listReadings(300), check('begin', 104), check('end', 131)], 300);
    const told = store.journal.filter(({ subject }) => subject === SENSOR);
    expect(told.map(({ kind, who, from, to }) => [kind, who, from, to])).toEqual([
      ['operator', 'J. Field', '', 'check'],
      ['operator', 'J. Field', 'check', ''],
    ]);
    expect(told[0]!.text).toContain('at the latest until 2023-11-14 22:25 UTC');
  });

  it('that nobody ends is over after ten minutes, and to end it then changes nothing', () => {
    const facts = [standing, ...listReadings(900), check('begin', 100)];
    const store = run(facts, 900);
    const most = CHECK_MOST_MS / 1000;
    expect(listChecked(store)).toEqual(Array.from({ length: most / 10 }, (_, i) => 110 + 10 * i));
    const ended = run([...facts, check('end', 800)], 900);
    expect(describeFinal(ended)).toEqual(describeFinal(store));
    expect(ended.journal).toEqual(store.journal);
  });

  it('an end without a begin changes nothing; a begin and an end at once leave none', () => {
    const plain = run([standing, ...listReadings(300)], 300);
    const odd = [check('end', 50), check('begin', 104), check('end', 104)];
    expect(describeFinal(run([standing, ...listReadings(300), ...odd], 300))).toEqual(describeFinal(plain));
  });

  it('begun again while it goes on, lasts longer', () => {
    const facts = [standing, ...listReadings(1200), check('begin', 100), check('begin', 500)];
    expect(listChecked(run(facts, 1200))).toHaveLength(100);
  });

  it("claims what was classified already, as after the gateway's clock was set back", () => {
    const store = run([standing, ...listReadings(300)], 300);
    const state = reopen(plan, store);
    runBatch(plan, state, store, [check('begin', 104), check('end', 131)]);
    const later = seconds(300) + 20_000_000;
    for (let i = 0; i < 5; i++) runBatch(plan, state, store, [{ kind: 'tick', now: later + i * 60_000 }]);
    expect(listChecked(store)).toEqual([110, 120, 130, 140]);
    expect(findImbalances(store)).toEqual([]);
    const punctual = run([standing, ...listReadings(300), check('begin', 104), check('end', 131)], 300);
    expect(describeFinal(store)).toEqual(describeFinal(punctual));
  });
});

describe('the classes are the same', () => {
  const facts = [
    ...[standing, ...listReadings(1500), check('begin', 104), check('end', 131)],
    ...[check('begin', 400), check('begin', 420, 'pump-1/nde'), check('end', 600, 'pump-1/nde')],
  ];
  const punctual = describeFinal(run(facts, 1500));
  const late = (reach: number) => (fact: Fact, i: number) =>
    fact.kind === 'reading' ? ((i * 7919) % reach) * 1000 : 0;

  it.each<[string, Way]>([
    ['in small batches', { batch: 3 }],
    ['with a restart after every batch', { batch: 37, restarts: true }],
    ['with readings late by up to a minute', { delay: late(60) }],
    ['with readings late by up to half an hour', { delay: late(1800) }],
    [
      'with a backlog of the check that comes two hours later',
      {
        delay: (fact) =>
          fact.kind === 'reading' && fact.seq! > 8 && fact.seq! < 60 ? 7_200_000 - (fact.at! - START) : 0,
      },
    ],
    ['with all of it', { batch: 50, restarts: true, delay: late(900) }],
  ])('%s', (_name, way) => {
    const store = run(facts, 1500, way);
    expect(findImbalances(store)).toEqual([]);
    expect(describeFinal(store)).toEqual(punctual);
  });
});
