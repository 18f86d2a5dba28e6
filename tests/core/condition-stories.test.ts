/**
 * Stories of alarms on plain conditions over restarts of the gateway, a line a stretch of time: what a sensor does while the gateway
 * runs, and how long the gateway stands. Time in which it stands counts for nothing, and no restart tells anything anew.
 */
import { describe, expect, it } from 'vitest';
import type { Fact } from '../../src/core/facts.js';
import type { ConditionAlarmPlan } from '../../src/core/plan.js';
import { openState } from '../../src/core/step.js';
import { MemoryStore, reopen, runBatch } from '../support/memory-store.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

const T0 = 1_700_000_040_000;
const KINDS = ['no-readings', 'counter-unknown', 'rejecting', 'saturated'] as const;

function alarm(kind: ConditionAlarmPlan['kind']): ConditionAlarmPlan {
  const instant = kind !== 'no-readings';
  return {
    ...{ id: `pump.de-${kind}`, motor: 'pump', alarm: `de-${kind}`, sensor: 'pump/de', kind },
    ...{ onDelayMs: instant ? 0 : 55_000, offDelayMs: instant ? 115_000 : 25_000 },
    ...{ latching: false, priority: 'low', consequence: '', action: '' },
    ...{ class: 'condition', timeToRespondMs: null, rationale: '' },
  };
}

/** What is told, in seconds of the time in which the gateway ran: `90: no-readings unacknowledged`. */
function tell(story: string, restartEachS: number | null): string[] {
  const plan = makePlan(
    [motorPlan('pump', { hasRunState: false })],
    [sensorPlan('pump', 'de', { deadTimeS: 0.01, maxRatePerS: 200 })],
    { conditionAlarms: KINDS.map(alarm) },
  );
  const store = new MemoryStore();
  let state = openState(plan, null);
  let now = T0;
  let ran = 0;
  let count = 0;
  let seq = 0;
  let boot = 1;
  const told: string[] = [];
  const second = (facts: Fact[]): void => {
    now += 1000;
    ran += 1;
    const before = store.journal.length;
    runBatch(plan, state, store, [{ kind: 'tick', now }, ...facts]);
    for (const { subject, to } of store.journal.slice(before))
      told.push(`${ran}: ${subject.replace('pump.de-', '')} ${to}`);
    if (restartEachS !== null && ran % restartEachS === 0) state = reopen(plan, store);
  };
  for (const line of story.trim().split('\n')) {
    const [verb, amount, perReading] = line.split('#')[0]!.trim().split(/\s+/) as [string, string, string?];
    if (verb === 'stands') {
      now += Number(amount) * 1000;
      state = reopen(plan, store);
      continue;
    }
    if (verb === 'reboots') [boot, count, seq] = [boot + Number(amount), 0, 0];
    for (let i = 0; i < (verb === 'reboots' ? 0 : Number(amount)); i++) {
      const facts: Fact[] = [];
      if (verb === 'sends' && i % 10 === 0) {
        count += Number(perReading);
        facts.push({
          ...{ kind: 'reading', sensor: 'pump/de', device: 'SN-1', count, at: now + 900, seq: seq++, boot },
          ...{ upMs: null, temperatureC: null, check: false, receivedAt: now + 1000 },
        });
      }
      second(facts);
    }
  }
  return told;
}

describe('over restarts', () => {
  it.each([
    [
      'a gateway that stood for a night raises nothing for it',
      `
      sends 120 5
      stands 28800
      sends 300 5
      `,
      [],
    ],
    [
      'silence goes on where it stopped: 32 s without a reading and 55 s of delay, the night left out',
      `
      sends 120 5          # the last one comes in second 111
      silent 50            # the delay has begun at second 150
      stands 28800
      silent 60
      `,
      ['210: no-readings unacknowledged'],
    ],
    [
      'two stops in one silence are both left out',
      `
      sends 120 5
      silent 10
      stands 3600
      silent 20
      stands 7200
      silent 80
      `,
      ['210: no-readings unacknowledged'],
    ],
    [
      'what was raised stays raised, and returns when the sensor is heard again',
      `
      sends 60 5
      silent 120
      stands 28800
      silent 120
      sends 120 5
      `,
      ['150: no-readings unacknowledged', '340: no-readings returned-unacknowledged'],
    ],
    [
      'a counter that restarted stands as recent for 215 s, and returns after 115 s more',
      `
      sends 60 5
      reboots 1
      sends 60 5
      stands 28800
      sends 400 5
      `,
      ['70: counter-unknown unacknowledged', '400: counter-unknown returned-unacknowledged'],
    ],
    [
      'counts beyond what is plausible',
      `
      sends 60 5
      sends 60 2500
      stands 28800
      sends 600 5
      `,
      ['80: rejecting unacknowledged', '450: rejecting returned-unacknowledged'],
    ],
    [
      'dead time that hides more than half',
      `
      sends 60 5
      sends 60 700
      stands 28800
      sends 600 5
      `,
      ['90: saturated unacknowledged', '460: saturated returned-unacknowledged'],
    ],
  ])('%s', (_name, story, expected) => {
    expect(tell(story, null)).toEqual(expected);
    // quick restarts change nothing
    expect(tell(story, 7)).toEqual(expected);
    const awake = story.replace(/.*stands.*/g, '');
    expect(tell(awake, 1)).toEqual(tell(awake, null));
  });
});
