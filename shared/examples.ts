/**
 * One example of each message, on a plant of our own invention: the drinking-water pumping station `tarn-hollow` with the
 * boosters `booster-1` to `booster-6` and the fans `fan-1` and `fan-2`.
 * Documents, tests and schemas all quote these; so an example that no longer fits the contract fails a test.
 */
import type { z } from 'zod';
import type { driveStateBody, drivePresenceBody, readingBody, sensorPresenceBody } from './messages.js';
import type {
  AlarmMessage,
  EvidenceBody,
  GatewayPresenceMessage,
  JournalMessage,
  RateMessage,
  RollupMessage,
} from './out-messages.js';
import {
  alarmTopic,
  drivePresenceTopic,
  driveStateTopic,
  gatewayPresenceTopic,
  journalTopic,
  rateTopic,
  readingTopic,
  rollupTopic,
  sensorPresenceTopic,
} from './topics.js';

export const EXAMPLE_SITE = 'tarn-hollow';

const none = { pulses: 0, ms: 0 };

const reading: z.input<typeof readingBody> = {
  device: 'DS-20417',
  count: 184_230,
  at: '2026-03-02T06:10:10.000Z',
  seq: 51_840,
  boot: 7,
  up_ms: 518_400_000,
  temperature_c: 41.5,
  supply_v: 23.8,
};

const sensorPresence: z.input<typeof sensorPresenceBody> = {
  online: true,
  device: 'DS-20417',
  firmware: '2.4.1',
};

const driveState: z.input<typeof driveStateBody> = {
  state: 'running',
  at: '2026-03-02T05:58:04.000Z',
  since: '2026-03-02T05:57:52.400Z',
  modulating: true,
  speed_rpm: 1478,
  load_pct: 71.5,
  switching_khz: 4,
  dc_link_v: 561,
};

const drivePresence: z.input<typeof drivePresenceBody> = { online: true };

const gatewayPresence: GatewayPresenceMessage = {
  online: true,
  at: '2026-03-01T22:14:03.118Z',
  version: '0.1.0',
  configuration: '5f0c9a1e',
  flood_since: null,
};

/** 540 running pulses in ten minutes with a dispersion of 2: exact limits on 270, times 2. */
const rate: RateMessage = {
  sensor: 'booster-4/de',
  window: {
    start: '2026-03-02T06:10:00.000Z',
    end: '2026-03-02T06:10:10.000Z',
    classes: {
      rejected: none,
      check: none,
      unattributed: none,
      transient: none,
      common: none,
      running: { pulses: 9, ms: 10_000 },
      background: none,
    },
    uncertain_ms: 0,
  },
  from: '2026-03-02T06:00:10.000Z',
  to: '2026-03-02T06:10:10.000Z',
  pulses: 540,
  exposure_ms: 600_000,
  rate_per_min: 54,
  lower_per_min: 47.75,
  upper_per_min: 60.84,
  dispersion: 2,
  quality: 'good',
};

const rollup: RollupMessage = {
  sensor: 'booster-4/de',
  period: '1m',
  start: '2026-03-02T05:58:00.000Z',
  end: '2026-03-02T05:59:00.000Z',
  revision: 1,
  classes: {
    rejected: none,
    check: none,
    unattributed: none,
    transient: { pulses: 212, ms: 20_000 },
    common: none,
    running: { pulses: 36, ms: 40_000 },
    background: none,
  },
  rate_per_min: 54,
  uncertain_ms: 0,
};

const evidence: EvidenceBody = {
  from: '2026-03-02T06:00:00.000Z',
  to: '2026-03-02T06:10:00.000Z',
  pulses: 540,
  exposure_ms: 600_000,
  rate_per_min: 54,
  lower_per_min: 43.3,
  upper_per_min: 66.41,
  dispersion: 2,
  confidence: 0.9995,
  setpoint_per_min: 30,
  deadband_per_min: 6,
  on_delay_ms: 120_000,
  off_delay_ms: 600_000,
  run_states: [
    {
      from: '2026-03-02T06:00:00.000Z',
      to: '2026-03-02T06:10:00.000Z',
      state: 'running',
      modulating: true,
    },
  ],
  configuration: '5f0c9a1e',
  says: '540 pulses in 10 min of running: 54 a minute, at least 43.3, above the setpoint of 30 for 2 min',
};

const alarm: AlarmMessage = {
  id: 'booster-4.de-rate-high',
  motor: 'booster-4',
  alarm: 'de-rate-high',
  sensor: 'booster-4/de',
  kind: 'rate-high',
  priority: 'low',
  state: 'unacknowledged',
  active: true,
  acknowledged: false,
  confirmed: false,
  latched: false,
  shelved_until: null,
  shelved_once: false,
  shelved_by: '',
  shelved_why: '',
  suppressed_by: null,
  out_of_service: false,
  out_of_service_by: '',
  out_of_service_why: '',
  held_by: null,
  grouped_under: null,
  annunciated_at: '2026-03-02T06:10:16.000Z',
  since: '2026-03-02T06:10:00.000Z',
  acknowledged_by: '',
  confirmed_by: '',
  note: '',
  consequence: 'Sparks may be eroding the raceways; weeks to months until it can be heard',
  action: 'Plan a measurement of the shaft voltage by a competent person',
  rationale: 'Twice what the quietest of the six boosters counts; no published count is safe',
  class: 'condition',
  time_to_respond_ms: 604_800_000,
  evidence,
};

const journal: JournalMessage = {
  at: '2026-03-02T06:10:00.000Z',
  detected_at: '2026-03-02T06:10:16.204Z',
  kind: 'alarm',
  subject: 'booster-4.de-rate-high',
  from: 'normal',
  to: 'unacknowledged',
  who: '',
  text: evidence.says,
  what: 'raised',
  annunciated: true,
  configuration: '5f0c9a1e',
  evidence,
};

/** By the name of the message: a topic and what is published to it. */
export const EXAMPLES = {
  reading: { topic: readingTopic(EXAMPLE_SITE, 'booster-4', 'de'), payload: reading },
  'sensor-presence': { topic: sensorPresenceTopic(EXAMPLE_SITE, 'booster-4', 'de'), payload: sensorPresence },
  'drive-state': { topic: driveStateTopic(EXAMPLE_SITE, 'booster-4'), payload: driveState },
  'drive-presence': { topic: drivePresenceTopic(EXAMPLE_SITE, 'booster-4'), payload: drivePresence },
  'gateway-presence': { topic: gatewayPresenceTopic(EXAMPLE_SITE), payload: gatewayPresence },
  rate: { topic: rateTopic(EXAMPLE_SITE, 'booster-4', 'de'), payload: rate },
  rollup: { topic: rollupTopic(EXAMPLE_SITE, 'booster-4', 'de', '1m'), payload: rollup },
  alarm: { topic: alarmTopic(EXAMPLE_SITE, 'booster-4', 'de-rate-high'), payload: alarm },
  journal: { topic: journalTopic(EXAMPLE_SITE), payload: journal },
} as const;
export type MessageName = keyof typeof EXAMPLES;
