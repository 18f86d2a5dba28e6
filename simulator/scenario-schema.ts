/**
 * The scenario file: which keys it may hold and within which limits. Everything may be left out; what a plant does
 * without being told stands in scenario-defaults.ts. Strict: a mistyped fault that silently never happens would make a
 * test prove nothing.
 */
import * as z from 'zod';
import { isPlaceName, NAME_RULE } from '../shared/names.js';

const share = z.number().min(0).max(1);
const factor = z.number().min(0).max(1e6);
const perDay = z.number().min(0).max(20_000);
const minutes = z.number().min(0).max(60_000);
const seconds = z.number().min(0).max(86_400);
const text = z.string().min(1).max(1_000);
const name = z.string().refine(isPlaceName, { error: `expected ${NAME_RULE}, and no reserved name` });

/** Happenings: so many a day at random, and at these minutes from the beginning. */
const happenings = { perDay: perDay.optional(), atMinutes: z.array(minutes).max(10_000).optional() };

/** What wears the bearing: from this minute on the rate is multiplied by the factor, reached along a ramp. */
const conditionStep = z.strictObject({ atMinute: minutes, factor, rampMinutes: minutes.optional() });

const discharge = z.strictObject({
  ratePerMin: z.number().min(0).max(5e6).optional(),
  speedExponent: z.number().min(-4).max(4).optional(),
  temperaturePerK: z.number().min(-0.2).max(0.2).optional(),
  condition: z.array(conditionStep).max(100).optional(),
  bursts: z
    .strictObject({ perHour: perDay.optional(), meanSeconds: seconds.optional(), factor: factor.optional() })
    .optional(),
  startPulses: z.number().min(0).max(1e6).optional(),
  stopPulses: z.number().min(0).max(1e6).optional(),
  preheatShare: factor.optional(),
  crosstalk: z
    .strictObject({
      from: z.array(text).max(100).optional(),
      switchingPulses: z.number().min(0).max(1e5).optional(),
      spreadMs: z.number().int().min(1).max(60_000).optional(),
      ratePerMin: z.number().min(0).max(1e6).optional(),
    })
    .optional(),
  backgroundPerMin: z.number().min(0).max(1e6).optional(),
});

const clock = z.strictObject({
  offsetMs: z.number().int().min(-1e12).max(1e12).optional(),
  driftPpm: z.number().min(-10_000).max(10_000).optional(),
  steps: z
    .array(z.strictObject({ atMinute: minutes, byMs: z.number().int().min(-1e12).max(1e12) }))
    .max(1_000)
    .optional(),
});

const device = z.strictObject({
  intervalMs: z.number().int().min(100).max(3_600_000).optional(),
  jitterMs: z.number().int().min(0).max(600_000).optional(),
  counterBits: z
    .union([z.literal(16), z.literal(32), z.literal(53)], { error: 'expected 16, 32 or 53' })
    .optional(),
  initialCount: z
    .union([z.literal('random'), z.number().int().min(0).max(Number.MAX_SAFE_INTEGER)])
    .optional(),
  deadTimeUs: z.number().min(0).max(1e6).optional(),
  maxRatePerS: z.number().positive().max(1e7).nullable().optional(),
  sends: z
    .strictObject({
      device: z.boolean().optional(),
      seq: z.boolean().optional(),
      boot: z.boolean().optional(),
      at: z.boolean().optional(),
      upMs: z.boolean().optional(),
      temperature: z.boolean().optional(),
      supply: z.boolean().optional(),
    })
    .optional(),
  clock: clock.optional(),
  reboots: z
    .strictObject({ ...happenings, offSeconds: seconds.optional(), skipShare: share.optional() })
    .optional(),
  swaps: z.strictObject({ ...happenings, offSeconds: seconds.optional() }).optional(),
  outages: z
    .strictObject({
      ...happenings,
      minutes: minutes.optional(),
      buffer: z.number().int().min(0).max(1e6).optional(),
      replay: z.enum(['backlog-first', 'live-first']).optional(),
      paceMs: z.number().int().min(0).max(60_000).optional(),
    })
    .optional(),
  silences: z.strictObject({ ...happenings, minutes: minutes.optional() }).optional(),
  checks: z
    .strictObject({ ...happenings, seconds: seconds.optional(), pulsesPerS: factor.optional() })
    .optional(),
  tornShare: share.optional(),
  garbageShare: share.optional(),
});

const sensor = z.strictObject({ discharge: discharge.optional(), device: device.optional() });

const drive = z.strictObject({
  reporting: z.enum(['change', 'heartbeat', 'polled', 'none']).optional(),
  heartbeatMs: z.number().int().min(1_000).max(3_600_000).optional(),
  pollMs: z.number().int().min(1_000).max(3_600_000).optional(),
  latencyMs: z.number().int().min(0).max(60_000).optional(),
  sends: z
    .strictObject({
      since: z.boolean().optional(),
      at: z.boolean().optional(),
      modulating: z.boolean().optional(),
      condition: z.boolean().optional(),
      starting: z.boolean().optional(),
    })
    .optional(),
  clock: clock.optional(),
  clockErrorMs: z.number().int().min(0).max(60_000).optional(),
  outages: z.strictObject({ ...happenings, minutes: minutes.optional() }).optional(),
  silences: z.strictObject({ ...happenings, minutes: minutes.optional() }).optional(),
});

const duty = z.strictObject({
  kind: z.enum(['cycle', 'continuous', 'standstill', 'listed']).optional(),
  begins: z.enum(['random', 'running', 'stopped']).optional(),
  runMinutes: z.number().positive().max(60_000).optional(),
  stopMinutes: z.number().positive().max(60_000).optional(),
  shortestMinutes: minutes.optional(),
  runs: z
    .array(z.tuple([minutes, minutes]))
    .max(10_000)
    .optional(),
  startingSeconds: z.number().min(0).max(600).optional(),
  stoppingSeconds: z.number().min(0).max(600).optional(),
  tripShare: share.optional(),
  jogs: z
    .strictObject({
      ...happenings,
      edges: z.number().int().min(2).max(100).optional(),
      gapSeconds: seconds.optional(),
    })
    .optional(),
  bypass: z.strictObject({ ...happenings, minutes: minutes.optional() }).optional(),
  preheat: z.strictObject({ ...happenings, minutes: minutes.optional() }).optional(),
});

const rateAlarm = z.strictObject({
  setpointPerMin: z.number().positive(),
  deadbandPerMin: z.number().min(0).optional(),
  onDelayMs: z.number().int().min(0).optional(),
  offDelayMs: z.number().int().min(0).optional(),
  windowMs: z.number().int().positive().optional(),
  latching: z.boolean().optional(),
  priority: z.enum(['low', 'medium', 'high']).optional(),
  rationale: text,
  action: text.optional(),
  consequence: text.optional(),
  positions: z.array(name).max(20).optional(),
});

const motorShape = {
  zone: name.optional(),
  dutyGroup: name.optional(),
  duty: duty.optional(),
  speed: z
    .strictObject({
      ratedRpm: z.number().positive().max(100_000).optional(),
      profile: z.enum(['constant', 'daily', 'walk', 'steps']).optional(),
      share: z.number().min(0.01).max(2).optional(),
      swing: z.number().min(0).max(1).optional(),
      stepMinutes: z.number().min(0.1).max(1_440).optional(),
    })
    .optional(),
  load: z
    .strictObject({
      pct: z.number().min(0).max(200).optional(),
      swing: z.number().min(0).max(100).optional(),
    })
    .optional(),
  switchingKhz: z.number().positive().max(100).optional(),
  dcLinkV: z.number().positive().max(2_000).optional(),
  temperature: z
    .strictObject({
      ambientC: z.number().min(-60).max(80).optional(),
      riseC: z.number().min(0).max(150).optional(),
      minutes: minutes.optional(),
    })
    .optional(),
  drive: drive.optional(),
  eachPosition: sensor.optional(),
  positions: z.record(name, sensor.nullable()).optional(),
  alarms: z
    .strictObject({ 'rate-high': rateAlarm.optional(), 'rate-high-high': rateAlarm.optional() })
    .optional(),
};

const siteBurst = z.strictObject({
  zone: name.nullable().optional(),
  ...happenings,
  meanSeconds: seconds.optional(),
  pulsesPerS: factor.optional(),
  sensorShare: share.optional(),
});

const network = z.strictObject({
  delayMs: z.number().min(0).max(600_000).optional(),
  dropShare: share.optional(),
  duplicateShare: share.optional(),
  reorderShare: share.optional(),
  reorderMs: z.number().min(0).max(86_400_000).optional(),
  driveDropShare: share.optional(),
  outages: z.strictObject({ ...happenings, minutes: minutes.optional() }).optional(),
});

const endpoint = z.string().regex(/^[^\s:]+:\d{1,5}$/, { error: 'expected HOST:PORT' });

export const ScenarioSchema = z.strictObject({
  site: name,
  description: text.optional(),
  timeZone: text.optional(),
  gateway: z.strictObject({ mqtt: endpoint.optional(), http: endpoint.optional() }).optional(),
  templates: z.record(name, z.strictObject(motorShape)).optional(),
  motors: z.record(text, z.strictObject({ template: name.optional(), ...motorShape }).nullable()),
  siteBursts: z.array(siteBurst).max(100).optional(),
  network: network.optional(),
  ticksMs: z.number().int().min(100).max(60_000).nullable().optional(),
});

export type ScenarioText = z.output<typeof ScenarioSchema>;
export type MotorText = NonNullable<ScenarioText['motors'][string]>;
export type SensorText = z.output<typeof sensor>;
export type SiteBurstText = z.output<typeof siteBurst>;
export type NetworkText = z.output<typeof network>;
export type RateAlarmText = z.output<typeof rateAlarm>;
export type DriveText = z.output<typeof drive>;
export type ClockText = z.output<typeof clock>;
