/** A reporter that spoke again without saying that it is back, and then went away, is away. */
import { expect, it } from 'vitest';
import type { DriveFact, Fact } from '../../src/core/facts.js';
import { openState } from '../../src/core/step.js';
import { MemoryStore, runBatch } from '../support/memory-store.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

const START = 1_700_000_000_000;

function running(at: number): DriveFact {
  return {
    kind: 'drive',
    motor: 'fan-1',
    state: 'running',
    modulating: true,
    at,
    since: START,
    speedRpm: null,
    loadPct: null,
    switchingKhz: null,
    dcLinkV: null,
    receivedAt: at,
  };
}

it('a second absence counts when a message came between', () => {
  const plan = makePlan([motorPlan('fan-1')], [sensorPlan('fan-1', 'de')]);
  const state = openState(plan, null);
  const gone = (at: number): Fact => ({
    kind: 'drive-presence',
    motor: 'fan-1',
    online: false,
    receivedAt: at,
  });
  const facts = [running(START), gone(START + 60_000), running(START + 120_000), gone(START + 180_000)];
  runBatch(plan, state, new MemoryStore(), facts);
  const stretches = state.motors.get('fan-1')!.timeline.stretches;
  expect(stretches[stretches.length - 1]).toMatchObject({ state: 'unknown', from: START + 180_000 });
});
