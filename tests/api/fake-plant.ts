/** The smallest plant that has one of everything: an alarm that stands, a rate, a start, a drive and its plan. */
import type { LastDrive } from '../../src/api/deps.js';
import { newAlarm } from '../../src/core/alarm.js';
import type { AlarmRecord, Evidence } from '../../src/core/alarm-rows.js';
import type { Plan } from '../../src/core/plan.js';
import type { RateNow, Transient } from '../../src/core/rows.js';
import { NOW } from './fake-entries.js';

const HEARTBEAT_MS = 30_000;

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

export const plan = {
  site: 'plant-a',
  groupAlarms: {},
  revision: 'abc123',
  motors: new Map([
    [
      'pump-1',
      {
        key: 'pump-1',
        zone: 'hall',
        dutyGroup: 'pumps',
        hasRunState: true,
        heartbeatMs: HEARTBEAT_MS,
        rampMs: 0,
        clockErrorMs: 1000,
      },
    ],
  ]),
  sensors: new Map([
    ['pump-1/de', { key: 'pump-1/de', motor: 'pump-1', position: 'de', deadTimeS: 0, intervalMs: 10_000 }],
  ]),
  gate: { beforeEdgeMs: 2_000, afterRunningMs: 5_000, afterStoppedMs: 10_000, capMs: 120_000 },
  rateAlarms: [
    {
      ...{ id: alarm.id, action: 'Take a grease sample.', consequence: 'The raceway is eroded.' },
      ...{ rationale: 'Twice what its sisters count.', class: 'condition', timeToRespondMs: 86_400_000 },
    },
  ],
  conditionAlarms: [],
  deviationAlarms: [],
} as unknown as Plan;
