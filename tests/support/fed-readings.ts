/** One sensor, fed with a table of readings: what becomes of them, in seconds. */
import { expect } from 'vitest';
import type { ReadingFact } from '../../src/core/facts.js';
import type { SensorPlan } from '../../src/core/plan.js';
import { openState } from '../../src/core/step.js';
import { Flag } from '../../src/core/words.js';
import { findImbalances } from './final.js';
import { MemoryStore, runBatch } from './memory-store.js';
import { makePlan, motorPlan, sensorPlan } from './plans.js';

export const T0 = 1_700_000_000_000;

/** One reading a row: seconds, count, then what else it carries. */
export type Line = [second: number, count: number, more?: Partial<ReadingFact>];

export function feed(lines: readonly Line[], change: Partial<SensorPlan> = {}) {
  const plan = makePlan([motorPlan('pump')], [sensorPlan('pump', 'de', change)]);
  const store = new MemoryStore();
  const state = openState(plan, null);
  lines.forEach(([second, count, more], i) => {
    const at = T0 + second * 1000;
    const fact: ReadingFact = {
      kind: 'reading',
      sensor: 'pump/de',
      device: 'SN-1',
      count,
      at,
      seq: i,
      boot: 1,
      upMs: null,
      temperatureC: null,
      check: false,
      receivedAt: at + 100,
      ...more,
    };
    runBatch(plan, state, store, [{ kind: 'tick', now: fact.receivedAt }, fact]);
  });
  expect(findImbalances(store)).toEqual([]);
  const rows = store.sortedIncrements('pump/de');
  const pulses = rows
    .filter((r) => (r.flags & (Flag.anchor | Flag.torn | Flag.held)) === 0)
    .map((r) => `${(r.from - T0) / 1000}..${(r.to - T0) / 1000}: ${r.pulses}`);
  const unknown = [...store.segments.values()]
    .filter((s) => s.unknownReason !== '')
    .map(
      (s) =>
        `${s.unknownReason} ${(s.unknownFrom - T0) / 1000}..${(s.unknownTo - T0) / 1000}: ${s.unknownLow} to ${s.unknownHigh}`,
    );
  const diagnostics = Object.fromEntries(store.diagnostics);
  return { pulses, unknown, rows, diagnostics, details: Object.fromEntries(store.details) };
}
