/**
 * What a plant does when its scenario says nothing: it runs and stops, discharges a little, and nothing goes wrong.
 * Every fault is off at zero. Source: our choice; rates and times are of an ordinary size, not of any real plant.
 */
import type {
  ClockText,
  DriveText,
  MotorText,
  NetworkText,
  SensorText,
  SiteBurstText,
} from './scenario-schema.js';

/** All keys present, however deep. Lists and unions stay as they are. */
export type Full<T> = T extends readonly unknown[]
  ? T
  : T extends object
    ? { [K in keyof T]-?: Full<Exclude<T[K], undefined>> }
    : T;

const NEVER = { perDay: 0, atMinutes: [] };
const TRUE_CLOCK: Full<ClockText> = { offsetMs: 0, driftPpm: 0, steps: [] };

export const DEFAULT_SENSOR: Full<SensorText> = {
  discharge: {
    ratePerMin: 6,
    speedExponent: 1,
    temperaturePerK: 0.01,
    condition: [],
    bursts: { perHour: 0, meanSeconds: 60, factor: 8 },
    startPulses: 30,
    stopPulses: 15,
    preheatShare: 0.3,
    crosstalk: { from: [], switchingPulses: 5, spreadMs: 400, ratePerMin: 0 },
    backgroundPerMin: 0.05,
  },
  device: {
    intervalMs: 10_000,
    jitterMs: 40,
    counterBits: 32,
    initialCount: 'random',
    deadTimeUs: 0,
    maxRatePerS: null,
    sends: { device: true, seq: true, boot: true, at: true, upMs: true, temperature: true, supply: false },
    clock: TRUE_CLOCK,
    reboots: { ...NEVER, offSeconds: 12, skipShare: 0 },
    swaps: { ...NEVER, offSeconds: 120 },
    outages: { ...NEVER, minutes: 5, buffer: 1_000, replay: 'backlog-first', paceMs: 50 },
    silences: { ...NEVER, minutes: 5 },
    checks: { ...NEVER, seconds: 60, pulsesPerS: 5 },
    tornShare: 0,
    garbageShare: 0,
  },
};

export const DEFAULT_DRIVE: Full<DriveText> = {
  reporting: 'heartbeat',
  heartbeatMs: 10_000,
  pollMs: 5_000,
  latencyMs: 60,
  sends: { since: true, at: true, modulating: true, condition: true, starting: true },
  clock: TRUE_CLOCK,
  clockErrorMs: 1_000,
  outages: { ...NEVER, minutes: 5 },
  silences: { ...NEVER, minutes: 5 },
};

export const DEFAULT_MOTOR: Full<
  Omit<MotorText, 'template' | 'alarms' | 'positions' | 'eachPosition' | 'dutyGroup'>
> = {
  zone: 'plant',
  duty: {
    kind: 'cycle',
    begins: 'random',
    runMinutes: 60,
    stopMinutes: 30,
    shortestMinutes: 2,
    runs: [],
    startingSeconds: 8,
    stoppingSeconds: 6,
    tripShare: 0,
    jogs: { ...NEVER, edges: 6, gapSeconds: 3 },
    bypass: { ...NEVER, minutes: 5 },
    preheat: { ...NEVER, minutes: 5 },
  },
  speed: { ratedRpm: 1_480, profile: 'daily', share: 0.9, swing: 0.08, stepMinutes: 10 },
  load: { pct: 70, swing: 8 },
  switchingKhz: 4,
  dcLinkV: 560,
  temperature: { ambientC: 15, riseC: 30, minutes: 30 },
  drive: DEFAULT_DRIVE,
};

export const DEFAULT_SITE_BURST: Full<SiteBurstText> = {
  ...NEVER,
  zone: null,
  meanSeconds: 15,
  pulsesPerS: 20,
  sensorShare: 1,
};

export const DEFAULT_NETWORK: Full<NetworkText> = {
  delayMs: 40,
  dropShare: 0,
  duplicateShare: 0,
  reorderShare: 0,
  reorderMs: 8_000,
  driveDropShare: 0,
  outages: { ...NEVER, minutes: 5 },
};
