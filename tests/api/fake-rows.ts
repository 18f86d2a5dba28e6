/** Rows of the plant in memory: an alarm with its evidence, a rate, a start, a drive message. */
import type { LastDrive } from '../../src/api/deps.js';
import { newAlarm } from '../../src/core/alarm.js';
import type { AlarmRecord, Evidence } from '../../src/core/alarm-rows.js';
import type { RateNow, Transient } from '../../src/core/rows.js';
import { NOW } from './fake-entries.js';

/** Pulses or ms by class: three in transients, the rest running. */
export function sums(running: number): number[] {
  return [0, 0, 0, 0, 3, 0, running, 0, 0];
}

export const evidence: Evidence = {
  from: NOW - 600_000,
  to: NOW,
  pulses: 900,
  exposureMs: 600_000,
  ratePerMin: 90,
  lowerPerMin: 84,
  upperPerMin: 96,
  dispersion: 1,
  confidence: 0.95,
  setpointPerMin: 60,
  deadbandPerMin: 6,
  onDelayMs: 60_000,
  offDelayMs: 60_000,
  strip: [{ from: NOW - 600_000, to: NOW, state: 'running', modulating: true }],
  configuration: 'abc123',
  says: '900 pulses in 10 min of running are 84 to 96 a minute, above the setpoint of 60.',
};

export const alarm: AlarmRecord = {
  ...newAlarm({
    ...{ id: 'pump-1.de-rate-high', motor: 'pump-1', alarm: 'de-rate-high', sensor: 'pump-1/de' },
    ...{ kind: 'rate-high', priority: 'low' },
  }),
  active: true,
  acknowledged: false,
  confirmed: false,
  annunciatedAt: NOW - 60_000,
  state: 'unacknowledged',
  since: NOW - 60_000,
  evidence,
};

export const rate: RateNow = {
  sensor: 'pump-1/de',
  window: { sensor: 'pump-1/de', start: NOW - 10_000, pulses: sums(15), ms: sums(10_000), uncertainMs: 0 },
  from: NOW - 600_000,
  to: NOW,
  pulses: 900,
  exposureMs: 600_000,
  ratePerMin: 90,
  lowerPerMin: 84,
  upperPerMin: 96,
  dispersion: 1,
  quality: 'good',
};

export const transient: Transient = {
  motor: 'pump-1',
  from: NOW - 3_600_000,
  to: NOW - 3_590_000,
  edges: 2,
  kind: 'start',
  counts: [{ sensor: 'pump-1/de', pulses: 41, ms: 20_000 }],
};

export const drive: LastDrive = {
  motor: 'pump-1',
  at: NOW - 5_000,
  since: NOW - 3_595_000,
  state: 'running',
  modulating: true,
  speedRpm: 1480,
  loadPct: null,
  switchingKhz: 4,
  dcLinkV: null,
  receivedAt: NOW - 5_000,
  absentFrom: null,
};
