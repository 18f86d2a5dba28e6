/** The return of `above-baseline`: its window grows however long it takes, and does not depend on what memory holds. */
import { describe, expect, it } from 'vitest';
import type { AlarmRecord, JournalEntry } from '../../src/core/alarm-rows.js';
import { evaluateMinute } from '../../src/core/sweep.js';
import { emptyStep, newState } from '../../src/core/new-state.js';
import type { DeviationAlarmPlan } from '../../src/core/plan.js';
import type { BinSum } from '../../src/core/rows.js';
import type { CoreState, SensorState } from '../../src/core/state.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';
import { seedRandom } from '../support/seeded-random.js';

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const START = Date.UTC(2026, 0, 5);

const ALARM: DeviationAlarmPlan = {
  ...{ id: 'mill.de-above-baseline', motor: 'mill', alarm: 'de-above-baseline', sensor: 'mill/de' },
  ...{ kind: 'above-baseline', factor: 2, setpointPerMin: null, deadbandShare: 0.2 },
  ...{ onDelayMs: 0, offDelayMs: 0, windowMs: 600_000, falseAlarmsPerMonth: 0.1, latching: false },
  ...{ priority: 'low', consequence: '', action: '', class: 'condition', timeToRespondMs: null },
  rationale: '',
};

/** A mill whose baseline is one pulse a minute in each of its bins, fed by the minute. */
class Mill {
  readonly state: CoreState;
  readonly sensor: SensorState;
  readonly journal: JournalEntry[] = [];
  now = START;
  #part = 0;

  constructor(bins: readonly string[] = ['all']) {
    const plan = makePlan([motorPlan('mill', { hasRunState: false })], [sensorPlan('mill', 'de')], {
      deviationAlarms: [ALARM],
    });
    this.state = newState(plan);
    this.sensor = this.state.sensors.get('mill/de')!;
    for (const bin of bins) {
      this.sensor.watch.baseline.yardsticks.set(bin, {
        ...{ from: START - 30 * 24 * HOUR_MS, to: START, pulses: 43_200, ms: 43_200 * MINUTE_MS, days: 30 },
        ...{ dispersion: 1, dayDispersion: 1, visitedAt: START, stale: false },
      });
    }
  }

  get record(): AlarmRecord | undefined {
    return this.state.alarms.get(ALARM.id);
  }

  run(pulses: number, bins: BinSum[] = []): void {
    emptyStep(this.state);
    this.now += MINUTE_MS;
    this.state.now = this.now;
    this.sensor.minutes.push({ start: this.now - MINUTE_MS, pulses, ms: MINUTE_MS, bins });
    evaluateMinute(this.state, this.sensor);
    this.journal.push(...structuredClone(this.state.out.journal));
  }

  /** So many pulses a minute in the mean, as even as whole pulses can be. */
  runEvenly(minutes: number, perMin: number): void {
    for (let i = 0; i < minutes; i++) {
      this.#part += perMin;
      const pulses = Math.floor(this.#part);
      this.#part -= pulses;
      this.run(pulses);
    }
  }

  /** What a restart leaves of it: the newest minutes, and the record as the store holds it. */
  restart(): void {
    const { minutes } = this.sensor;
    if (minutes.length > 120) minutes.splice(0, minutes.length - 120);
    const { record } = this;
    if (record === undefined) return;
    this.state.alarms.set(record.id, JSON.parse(JSON.stringify(record)) as AlarmRecord);
  }
}

describe('the return window of above-baseline', () => {
  it('a long plateau inside the deadband does not hold up the return after a small fall', () => {
    const mill = new Mill();
    mill.runEvenly(60, 8);
    expect(mill.record?.active).toBe(true);
    mill.runEvenly(24 * 60, 1.75);
    expect(mill.record?.active).toBe(true);
    const fellAt = mill.now;
    mill.runEvenly(24 * 60, 1.3);
    const back = mill.journal.find(({ what }) => what === 'returned');
    expect(back).toBeDefined();
    // two hours of it cannot tell 1.3 from 1.6 yet, and half a day can
    expect(back!.at - fellAt).toBeGreaterThan(2 * HOUR_MS);
    expect(back!.at - fellAt).toBeLessThan(12 * HOUR_MS);
    expect(back!.evidence!.from).toBeGreaterThanOrEqual(fellAt - 4 * HOUR_MS);
  });

  it('a fall that takes hours to decide returns at the same minute with restarts every few minutes', () => {
    const [plain, restarted] = [new Mill(), new Mill()];
    for (const mill of [plain, restarted]) {
      mill.runEvenly(60, 8);
      mill.runEvenly(12 * 60, 1.75);
      for (let i = 0; i < 50; i++) {
        mill.runEvenly(10, 1.1);
        if (mill === restarted) mill.restart();
      }
    }
    expect(plain.journal.map(({ what }) => what)).toEqual(['raised', 'returned']);
    expect(restarted.journal).toEqual(plain.journal);
  });

  it.each([1, 2, 3, 4, 5, 6, 7, 8])('restarts at any minute change nothing, seed %i', (seed) => {
    const [plain, restarted] = [new Mill(['all', 's1', 's2']), new Mill(['all', 's1', 's2'])];
    const random = seedRandom(seed);
    const count = (mean: number): number =>
      Array.from({ length: 40 }, random).filter((x) => x < mean / 40).length;
    let perMin = 8;
    for (let i = 0; i < 3000; i++) {
      if (random() < 0.006 || i === 60) perMin = [1, 1.2, 1.4, 1.75, 8][Math.floor(random() * 5)]!;
      const counts = [count(perMin / 4), count(perMin / 2)];
      const bins = counts.map((pulses, bin) => ({ bin: `s${bin + 1}`, pulses, ms: (1 + bin) * 15_000 }));
      const isOrdered = random() < 0.5;
      const pulses = counts[0]! + counts[1]! + count(perMin / 4);
      plain.run(pulses, structuredClone(isOrdered ? bins : [...bins].reverse()));
      restarted.run(pulses, structuredClone(isOrdered ? bins : [...bins].reverse()));
      if (random() < 0.05) restarted.restart();
    }
    expect(plain.journal.filter(({ what }) => what === 'returned').length).toBeGreaterThan(0);
    expect(restarted.journal).toEqual(plain.journal);
    expect(JSON.stringify(restarted.record)).toBe(JSON.stringify(plain.record));
  });

  it('a record that an older program wrote goes on without blocks, and returns', () => {
    const mill = new Mill();
    mill.runEvenly(60, 8);
    mill.runEvenly(100, 1.75);
    const { returnBlocks, ...before } = mill.record!;
    expect(returnBlocks?.length).toBeGreaterThan(0);
    const old = { ...before, returnExpected: 100 };
    mill.state.alarms.set(ALARM.id, JSON.parse(JSON.stringify(old)) as AlarmRecord);
    mill.runEvenly(60, 0.5);
    const back = mill.journal.find(({ what }) => what === 'returned');
    expect(back?.evidence?.from).toBeGreaterThanOrEqual(mill.now - 60 * MINUTE_MS - 30 * MINUTE_MS);
    expect(mill.record).toMatchObject({ active: false, returnFrom: null });
  });
});
