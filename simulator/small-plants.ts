/**
 * Small random plants for property tests: a few motors, some hours, any mixture of faults. The flags say which faults
 * are in it, so that a test knows what it may expect to the pulse and what only within bounds.
 */
import { openStream, type Random } from './random.js';
import { resolveScenario, type Scenario } from './scenario.js';
import type { DriveText, MotorText, ScenarioText, SensorText } from './scenario-schema.js';

export const FAULTS = [
  'drops',
  'duplicates',
  'reordering',
  'reboots',
  'swaps',
  'outages',
  'network-outages',
  'silences',
  'clock-steps',
  'clock-drift',
  'torn',
  'garbage',
  'checks',
  'site-bursts',
  'crosstalk',
  'jogs',
  'trips',
  'bypass',
  'preheat',
  'polled-drives',
  'silent-starts',
  'drive-outages',
  'no-at',
  'no-seq',
  'no-boot',
  'no-device',
  'no-up-ms',
  'narrow-counters',
  'dead-time',
] as const;
export type FaultName = (typeof FAULTS)[number];

export interface SmallPlant {
  readonly scenario: Scenario;
  readonly seed: number;
  readonly hours: number;
  readonly faults: ReadonlySet<FaultName>;
}

export interface SmallPlantWishes {
  /** only these may be in it; absent: all */
  readonly allowed?: readonly FaultName[];
  /** these are in it in any case */
  readonly needed?: readonly FaultName[];
  /** each allowed fault is in it with this chance; absent: 0.2 */
  readonly share?: number;
  /** absent: 1 to 4 */
  readonly hours?: number;
}

/** Same seed and wishes: same plant. */
export function smallPlant(seed: number, wishes: SmallPlantWishes = {}): SmallPlant {
  const random = openStream(seed, 'small-plant');
  const share = wishes.share ?? 0.2;
  const drawn = FAULTS.filter((fault) => random.chance(share) && (wishes.allowed ?? FAULTS).includes(fault));
  const faults = new Set<FaultName>([...drawn, ...(wishes.needed ?? [])]);
  const hours = wishes.hours ?? random.integer(2, 8) / 2;
  const names = Array.from({ length: random.integer(2, 5) }, (_, i) => `motor-${i + 1}`);
  const motors = names.map((name) => [name, makeMotor(name, names, faults, random)] as const);
  const text: ScenarioText = {
    site: 'small-plant',
    motors: Object.fromEntries(motors),
    network: makeNetwork(faults, random),
    siteBursts: faults.has('site-bursts') ? [{ perDay: 24, meanSeconds: 12, pulsesPerS: 40 }] : [],
  };
  return { scenario: resolveScenario(text), seed, hours, faults };
}

function makeNetwork(faults: ReadonlySet<FaultName>, random: Random): NonNullable<ScenarioText['network']> {
  return {
    delayMs: random.integer(5, 200),
    dropShare: faults.has('drops') ? random.between(0.001, 0.05) : 0,
    duplicateShare: faults.has('duplicates') ? random.between(0.001, 0.05) : 0,
    reorderShare: faults.has('reordering') ? random.between(0.001, 0.03) : 0,
    reorderMs: random.integer(1_000, 20_000),
    outages: { perDay: faults.has('network-outages') ? 10 : 0, minutes: random.between(0.5, 6) },
  };
}

function makeMotor(
  name: string,
  names: readonly string[],
  faults: ReadonlySet<FaultName>,
  random: Random,
): MotorText {
  const sensor = (): SensorText => makeSensor(name, names, faults, random);
  const positions = random.chance(0.7) ? { de: sensor(), nde: sensor() } : { de: sensor() };
  return {
    zone: 'hall',
    duty: {
      kind: random.chance(0.15) ? 'continuous' : 'cycle',
      runMinutes: random.between(10, 60),
      stopMinutes: random.between(4, 25),
      startingSeconds: random.between(2, 20),
      stoppingSeconds: random.between(2, 15),
      tripShare: faults.has('trips') ? 0.3 : 0,
      jogs: {
        perDay: faults.has('jogs') ? 24 : 0,
        edges: random.integer(4, 12),
        gapSeconds: random.between(1, 5),
      },
      bypass: { perDay: faults.has('bypass') ? 16 : 0, minutes: random.between(1, 5) },
      preheat: { perDay: faults.has('preheat') ? 24 : 0, minutes: random.between(1, 4) },
    },
    speed: {
      profile: (['constant', 'daily', 'walk', 'steps'] as const)[random.integer(0, 3)]!,
      stepMinutes: 5,
    },
    drive: makeDrive(faults, random),
    positions,
  };
}

function makeDrive(faults: ReadonlySet<FaultName>, random: Random): DriveText {
  const isPolled = faults.has('polled-drives') && random.chance(0.6);
  const isPlain = faults.has('silent-starts') && random.chance(0.6);
  return {
    reporting: isPolled ? 'polled' : random.chance(0.6) ? 'heartbeat' : 'change',
    heartbeatMs: random.integer(5, 20) * 1_000,
    pollMs: random.integer(1, 8) * 1_000,
    sends: { starting: !isPlain },
    outages: { perDay: faults.has('drive-outages') ? 10 : 0, minutes: random.between(0.5, 8) },
  };
}

function makeSensor(
  name: string,
  names: readonly string[],
  faults: ReadonlySet<FaultName>,
  random: Random,
): SensorText {
  const neighbours = names.filter((other) => other !== name && random.chance(0.4));
  const bits = faults.has('narrow-counters') && random.chance(0.6) ? 16 : random.chance(0.7) ? 32 : 53;
  return {
    discharge: {
      ratePerMin: Math.exp(random.between(Math.log(0.5), Math.log(600))),
      speedExponent: random.between(0, 2),
      bursts: {
        perHour: random.chance(0.5) ? random.between(1, 8) : 0,
        meanSeconds: random.between(5, 90),
        factor: 6,
      },
      startPulses: random.between(0, 200),
      stopPulses: random.between(0, 80),
      backgroundPerMin: random.between(0, 2),
      condition: random.chance(0.2) ? [{ atMinute: 60, factor: random.between(2, 10), rampMinutes: 20 }] : [],
      crosstalk: { from: faults.has('crosstalk') ? neighbours : [], switchingPulses: 8, spreadMs: 600 },
    },
    device: makeDevice(bits, faults, random),
  };
}

function makeDevice(
  counterBits: 16 | 32 | 53,
  faults: ReadonlySet<FaultName>,
  random: Random,
): NonNullable<SensorText['device']> {
  const lacks = (fault: FaultName): boolean => faults.has(fault) && random.chance(0.6);
  const perDay = (fault: FaultName, often: number): number => (faults.has(fault) ? often : 0);
  return {
    intervalMs: random.chance(0.7) ? 10_000 : random.integer(5, 30) * 1_000,
    jitterMs: random.integer(0, 400),
    counterBits,
    deadTimeUs: faults.has('dead-time') ? random.integer(5, 2_000) : 0,
    sends: {
      at: !lacks('no-at'),
      seq: !lacks('no-seq'),
      boot: !lacks('no-boot'),
      device: !lacks('no-device'),
      upMs: !lacks('no-up-ms'),
    },
    clock: {
      driftPpm: faults.has('clock-drift') ? random.between(-40, 40) : 0,
      steps: faults.has('clock-steps') ? [makeClockStep(random)] : [],
    },
    reboots: { perDay: perDay('reboots', 10), offSeconds: random.between(3, 60), skipShare: 0.15 },
    swaps: { perDay: perDay('swaps', 6), offSeconds: random.between(30, 200) },
    outages: {
      perDay: perDay('outages', 10),
      minutes: random.between(0.5, 10),
      buffer: random.chance(0.3) ? random.integer(0, 20) : 1_000,
      replay: random.chance(0.5) ? 'live-first' : 'backlog-first',
    },
    silences: { perDay: perDay('silences', 8), minutes: random.between(0.5, 6) },
    checks: { perDay: perDay('checks', 12), seconds: random.between(20, 90), pulsesPerS: 6 },
    tornShare: faults.has('torn') ? 0.004 : 0,
    garbageShare: faults.has('garbage') ? 0.01 : 0,
  };
}

function makeClockStep(random: Random): { atMinute: number; byMs: number } {
  const size = Math.round(Math.exp(random.between(Math.log(200), Math.log(600_000))));
  return { atMinute: random.between(5, 100), byMs: random.chance(0.5) ? size : -size };
}
