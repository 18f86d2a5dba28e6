/**
 * An interval that waits the longest wait in vain, ends on the edge of a base window, and is settled by the next heartbeat: it is looked at
 * again, in the window that holds its last instant.
 */
import { expect, it } from 'vitest';
import type { Fact } from '../../src/core/facts.js';
import { openState } from '../../src/core/step.js';
import { CLASS_NAMES } from '../../src/core/words.js';
import { MemoryStore, runBatch } from '../support/memory-store.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

const START = 1_700_000_040_000;
const HEARTBEAT_MS = 60_000;
const RECORDED_MS = 600_000;

/**
 * A tick each second, before what arrives in it: a heartbeat each minute, `lateMs` after its time, and a reading each 10 s; ticks and
 * heartbeats go on for some minutes.
 */
function record(lateMs: number): Fact[] {
  const unsaid = { speedRpm: null, loadPct: null, switchingKhz: null, dcLinkV: null };
  const told = { motor: 'fan-1', state: 'running', modulating: true, since: START - 3_600_000 } as const;
  const device = { sensor: 'fan-1/de', device: 'SN', boot: 1, check: false } as const;
  const unmeasured = { upMs: null, temperatureC: null };
  const facts: Fact[] = [];
  for (let passed = 0; passed <= RECORDED_MS + 300_000; passed += 1000) {
    const at = START + passed;
    facts.push({ kind: 'tick', now: at });
    if ((passed - lateMs) % HEARTBEAT_MS === 0)
      facts.push({ kind: 'drive', ...told, ...unsaid, at: at - lateMs, receivedAt: at });
    if (passed % 10_000 === 0 && passed <= RECORDED_MS) {
      const seq = passed / 10_000;
      facts.push({ kind: 'reading', ...device, ...unmeasured, seq, count: 3 * seq, at, receivedAt: at });
    }
  }
  return facts;
}

function notRunning(lateMs: number): number[] {
  const plan = makePlan([motorPlan('fan-1', { heartbeatMs: HEARTBEAT_MS })], [sensorPlan('fan-1', 'de')]);
  const store = new MemoryStore();
  runBatch(plan, openState(plan, null), store, record(lateMs));
  const rows = store.increments.get('fan-1/de')!.filter((row) => row.to > row.from);
  expect(rows).toHaveLength(RECORDED_MS / 10_000);
  return rows.filter((row) => CLASS_NAMES[row.class] !== 'running').map((row) => row.to - START);
}

it('what a slow heartbeat settles at the last moment is running in the end', () => {
  expect(notRunning(0)).toEqual([]);
});

for (const lateMs of [20_000, 57_000, 60_000, 100_000]) {
  it(`heartbeats that come ${lateMs} ms late settle all of it, too`, () => {
    expect(notRunning(lateMs)).toEqual([]);
  });
}
