/**
 * Stories of one rate alarm, a line a minute or an action, as a practitioner would tell them. Terms after IEC 62682 /
 * ISA-18.2 and OPC 10000-9; figures are invented.
 */
import { describe, expect, it } from 'vitest';
import type { Fact } from '../../src/core/facts.js';
import { openState } from '../../src/core/step.js';
import { MemoryStore, reopen, runBatch } from '../support/memory-store.js';
import { operate } from '../support/acts.js';
import { makePlan, motorPlan, rateAlarm, sensorPlan } from '../support/plans.js';

const T0 = 1_700_000_040_000; // a full minute

/** `minutes rate` runs at that many pulses a minute; `stand`: stopped; then the state shown after it. */
function tell(story: string, change: { latching?: boolean; restarts?: boolean } = {}): void {
  const plan = makePlan([motorPlan('pump')], [sensorPlan('pump', 'de')], {
    rateAlarms: [rateAlarm('pump/de', 300, { deadbandPerMin: 60, latching: change.latching ?? false })],
  });
  const store = new MemoryStore();
  let state = openState(plan, null);
  let now = T0;
  let count = 0;
  let seq = 0;
  const drive = (at: number, running: boolean): Fact => ({
    kind: 'drive',
    motor: 'pump',
    state: running ? 'running' : 'stopped',
    modulating: running,
    at,
    since: at,
    speedRpm: null,
    loadPct: null,
    switchingKhz: null,
    dcLinkV: null,
    receivedAt: at,
  });
  runBatch(plan, state, store, [drive(T0 - 100_000, true)]);
  for (const line of story.trim().split('\n')) {
    const [what, shown] = line
      .split('#')[0]!
      .split('->')
      .map((part) => part.trim()) as [string, string];
    const [verb, amount, rate] = what.split(/\s+/) as [string, string, string];
    if (verb === 'run' || verb === 'stand') {
      if (verb === 'stand') runBatch(plan, state, store, [drive(now, false)]);
      for (let i = 0; i < Number(amount) * 6; i++) {
        now += 10_000;
        count += verb === 'run' ? Math.floor(Number(rate) / 6) : 0;
        const reading: Fact = {
          kind: 'reading',
          sensor: 'pump/de',
          device: 'SN-1',
          count,
          at: now,
          seq: seq++,
          boot: 1,
          upMs: null,
          temperatureC: null,
          check: false,
          receivedAt: now + 50,
        };
        runBatch(plan, state, store, [{ kind: 'tick', now: now + 50 }, reading]);
        if (change.restarts) state = reopen(plan, store);
      }
      if (verb === 'stand') runBatch(plan, state, store, [drive(now, true)]);
    } else if (verb === 'acknowledge' || verb === 'reset') {
      runBatch(plan, state, store, [operate('pump.de-rate-high', { do: verb }, now)]);
    } else throw new Error(`the story says "${verb}"`);
    expect(`${what} -> ${store.alarms.get('pump.de-rate-high')?.state ?? 'normal'}`).toBe(
      `${what} -> ${shown}`,
    );
  }
}

const WHOLE = `
  run 30 240        -> normal                   # below the setpoint of 300
  run 6 600         -> normal                   # above, but the on-delay of 5 min still runs
  run 6 600         -> unacknowledged           # the lower limit has been above it for 5 min of running
  acknowledge       -> acknowledged
  run 10 280        -> acknowledged             # below the setpoint, inside the deadband of 60: held
  run 60 270        -> acknowledged             # still inside the deadband: held, however long
  run 12 120        -> acknowledged             # below it; the off-delay of 10 min runs
  run 30 120        -> normal
`;

describe('rate-high', () => {
  it('raises late, holds in the deadband, returns late', () => tell(WHOLE));
  it('tells the same story through a restart every ten seconds', () => tell(WHOLE, { restarts: true }));

  it('returns unacknowledged, then is acknowledged', () =>
    tell(`
      run 20 240        -> normal
      run 20 600        -> unacknowledged
      run 40 60         -> returned-unacknowledged
      acknowledge       -> normal
    `));

  it('learns nothing while the motor stands: it neither raises nor returns', () =>
    tell(`
      run 30 600        -> unacknowledged
      stand 120         -> unacknowledged
      run 5 600         -> unacknowledged
      acknowledge       -> acknowledged
      stand 120         -> acknowledged
    `));

  it('latches until it is acknowledged and reset', () =>
    tell(
      `
      run 30 600        -> unacknowledged
      run 60 60         -> latched-unacknowledged
      reset             -> latched-unacknowledged   # not before it is acknowledged
      acknowledge       -> latched-acknowledged
      reset             -> normal
    `,
      { latching: true },
    ));

  it('does not raise on a short rise', () =>
    tell(`
      run 30 240        -> normal
      run 1 900         -> normal                   # one minute of ten: the rate over ten minutes stays near the setpoint
      run 30 240        -> normal
    `));
});

describe('a backlog', () => {
  it('raises what punctual readings would have raised', () => {
    const plan = makePlan([motorPlan('pump')], [sensorPlan('pump', 'de')], {
      rateAlarms: [rateAlarm('pump/de', 300)],
    });
    const store = new MemoryStore();
    const state = openState(plan, null);
    const late = T0 + 7_200_000;
    const facts: Fact[] = [
      {
        kind: 'drive',
        motor: 'pump',
        state: 'running',
        modulating: true,
        at: late,
        since: T0 - 100_000,
        speedRpm: null,
        loadPct: null,
        switchingKhz: null,
        dcLinkV: null,
        receivedAt: late,
      },
    ];
    for (let i = 0; i <= 180; i++) {
      facts.push({
        kind: 'reading',
        sensor: 'pump/de',
        device: 'SN-1',
        count: i * 100,
        at: T0 + i * 10_000,
        seq: i,
        boot: 1,
        upMs: null,
        temperatureC: null,
        check: false,
        receivedAt: late + i,
      });
    }
    runBatch(plan, state, store, [{ kind: 'tick', now: late }, ...facts]);
    for (let i = 1; i < 120; i++) runBatch(plan, state, store, [{ kind: 'tick', now: late + i * 1000 }]);
    expect(store.alarms.get('pump.de-rate-high')?.state).toBe('unacknowledged');
    expect(store.alarms.get('pump.de-rate-high')!.since).toBeLessThan(T0 + 1_800_001);
  });
});
