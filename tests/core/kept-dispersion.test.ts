/** The dispersion that limits are widened by is the same before and after a restart. */
import { expect, it } from 'vitest';
import type { Fact } from '../../src/core/facts.js';
import { openState } from '../../src/core/step.js';
import { MemoryStore, reopen, runBatch } from '../support/memory-store.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

const MINUTE_MS = 60_000;
const START = Date.UTC(2026, 0, 5);

it('the dispersion of late hours is that of the restarted sensor too', () => {
  const plan = makePlan(
    [motorPlan('mill', { hasRunState: false })],
    [sensorPlan('mill', 'de', { intervalMs: MINUTE_MS, reorderWaitMs: 65_000 })],
  );
  const store = new MemoryStore();
  const state = openState(plan, null);
  const reading = (minute: number, receivedAt: number): Fact => ({
    ...{ kind: 'reading', sensor: 'mill/de', device: 'SN', at: START + minute * MINUTE_MS, seq: minute },
    // from the second hour on a hundred at once, each ten minutes
    ...{ count: minute <= 60 ? 10 * minute : 600 + 100 * Math.floor((minute - 60) / 10), boot: 1 },
    ...{ upMs: null, temperatureC: null, check: false, receivedAt },
  });
  const tick = (minute: number): Fact => ({ kind: 'tick', now: START + minute * MINUTE_MS });
  for (let minute = 1; minute <= 60; minute++)
    runBatch(plan, state, store, [tick(minute), reading(minute, START + minute * MINUTE_MS)]);
  for (let minute = 61; minute <= 150; minute++) runBatch(plan, state, store, [tick(minute)]);
  const sensor = state.sensors.get('mill/de')!;
  const before = sensor.dispersion;
  const late = START + 150 * MINUTE_MS + 1000;
  runBatch(
    plan,
    state,
    store,
    Array.from({ length: 90 }, (_, i) => reading(61 + i, late)),
  );
  for (let minute = 151; minute <= 154; minute++) runBatch(plan, state, store, [tick(minute)]);
  expect(sensor.dispersion).toBeGreaterThan(2 * before);
  expect(reopen(plan, store).sensors.get('mill/de')!.dispersion).toBe(sensor.dispersion);
});

it('the dispersion is that of the bin it runs in, after a restart too', () => {
  const axis = { axis: 'speed', edges: [1000], deadband: 0, learn: 0, learnSince: null } as const;
  const plan = makePlan(
    [motorPlan('mill', { dutyGroup: 'mills' })],
    [sensorPlan('mill', 'de', { intervalMs: MINUTE_MS, reorderWaitMs: 65_000 })],
    { dutyGroups: new Map([['mills', { key: 'mills', axes: [axis] }]]) },
  );
  const store = new MemoryStore();
  const state = openState(plan, null);
  let count = 0;
  for (let minute = 0; minute <= 320; minute++) {
    const at = START + minute * MINUTE_MS;
    // an hour fast and bursty, an hour slow and even, in turn, changed on the half hour
    const isFast = Math.floor((minute + 30) / 60) % 2 === 0;
    if (!isFast) count += 10;
    else if (minute % 10 === 0) count += 100;
    const drive: Fact = {
      ...{ kind: 'drive', motor: 'mill', state: 'running', modulating: true, at, since: START - 600_000 },
      ...{ speedRpm: isFast ? 1500 : 900, loadPct: null, switchingKhz: null, dcLinkV: null, receivedAt: at },
    };
    const reading: Fact = {
      ...{ kind: 'reading', sensor: 'mill/de', device: 'SN', count, at, seq: minute, boot: 1, upMs: null },
      ...{ temperatureC: null, check: false, receivedAt: at },
    };
    runBatch(plan, state, store, [{ kind: 'tick', now: at }, drive, reading]);
    const found = reopen(plan, store).sensors.get('mill/de')!;
    const { bin, dispersion } = state.sensors.get('mill/de')!;
    expect([minute, found.bin, found.dispersion]).toEqual([minute, bin, dispersion]);
  }
  expect(state.sensors.get('mill/de')!.binDispersions.size).toBe(2);
});
