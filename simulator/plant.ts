/**
 * Scenario and seed become a plant: every motor's life, every pulse, and the senders that tell of it. Pulses are drawn
 * before the first message leaves, so what is reported can never change what happened.
 */
import { DeviceSource } from './device.js';
import { liveDevices } from './device-lives.js';
import { dischargeSensor, drawSiteBursts, type SiteBurst } from './discharge.js';
import { DriveSource } from './drive.js';
import { drawIntervals, type Interval, joinIntervals } from './happenings.js';
import type { Fault, Source } from './messages.js';
import { liveMotor, type MotorLife } from './motor.js';
import { NetworkPath, type Passage } from './network.js';
import { PulseCollector, PulseTrain, SPAN_MS_MAX } from './pulses.js';
import { openStream } from './random.js';
import type { MotorScenario, Scenario, SensorScenario } from './scenario.js';
import {
  findRunning,
  openTruthQuery,
  type SensorRecord,
  tellMotor,
  tellSensor,
  type Truth,
  type TruthQuery,
} from './truth.js';

export interface Plant {
  readonly scenario: Scenario;
  readonly span: Interval;
  readonly lives: ReadonlyMap<string, MotorLife>;
  readonly sources: readonly Source[];
  readonly query: TruthQuery;
  /** complete once every message has been taken */
  tellTruth(): Truth;
}

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;

/** Where a plant is built: what all its parts share. */
interface Site {
  readonly scenario: Scenario;
  readonly seed: number;
  readonly span: Interval;
  readonly lives: ReadonlyMap<string, MotorLife>;
  readonly bursts: readonly SiteBurst[];
  readonly networkOutages: readonly Interval[];
}

/** `hours` may be fractional; `start`: true time of the beginning, ms since the epoch. Throws when the run is too long. */
export function openPlant(scenario: Scenario, seed: number, hours: number, start: number): Plant {
  const span = { from: start, to: start + Math.round(hours * HOUR_MS) };
  if (!(span.to > span.from) || span.to - span.from >= SPAN_MS_MAX) {
    throw new RangeError(`a run lasts more than nothing and less than 49 days, not ${hours} hours`);
  }
  const lives = new Map<string, MotorLife>();
  for (const motor of scenario.motors.values()) lives.set(motor.name, liveMotor(motor, seed, span));
  const { outages } = scenario.network;
  const networkOutages = drawIntervals(
    openStream(seed, 'network', 'outages'),
    outages,
    span,
    outages.minutes * MINUTE_MS,
  );
  const bursts = drawSiteBursts(scenario.siteBursts, seed, span);
  const site: Site = { scenario, seed, span, lives, bursts, networkOutages };
  const sources: Source[] = [];
  const records = new Map<string, SensorRecord>();
  const motorFaults = new Map<string, readonly Fault[]>();
  for (const motor of scenario.motors.values()) {
    motorFaults.set(motor.name, addDrive(site, motor, sources));
    for (const [position, sensor] of motor.positions) {
      records.set(`${motor.name}/${position}`, addSensor(site, motor, position, sensor, sources));
    }
  }
  const tellTruth = (): Truth => tellPlant(site, records, motorFaults);
  return { scenario, span, lives, sources, query: openTruthQuery(records, lives), tellTruth };
}

function addSensor(
  { scenario, seed, span, lives, bursts, networkOutages }: Site,
  motor: MotorScenario,
  position: string,
  sensor: SensorScenario,
  sources: Source[],
): SensorRecord {
  const key = `${motor.name}/${position}`;
  const { device } = sensor;
  const life = lives.get(motor.name)!;
  const own = liveDevices(device, key, seed, span);
  const draw = (name: string, wish: typeof device.silences): Interval[] =>
    drawIntervals(openStream(seed, key, name), wish, span, wish.minutes * MINUTE_MS);
  const checkLengthMs = device.checks.seconds * 1_000;
  const checks = drawIntervals(openStream(seed, key, 'checks'), device.checks, span, checkLengthMs);
  const ownOutages = draw('outages', device.outages);
  const outages = joinIntervals([...ownOutages, ...networkOutages]);
  const silences = draw('silences', device.silences);
  const collector = new PulseCollector(span.from);
  dischargeSensor(sensor, key, life, lives, bursts, checks, seed, span, collector);
  const rules = { deadTimeS: device.deadTimeUs / 1e6, powered: own.powered, running: findRunning(life) };
  const train = new PulseTrain(span.from, collector.sort(), rules, openStream(seed, key, 'dead-time'));
  const passage: Passage = { dropped: 0, duplicated: 0, reordered: 0, faults: [] };
  const path = new NetworkPath(scenario.network, openStream(seed, key, 'network'), passage);
  const place = {
    site: scenario.site,
    motor: motor.name,
    position,
    span,
    life,
    lives: own,
    train,
    outages,
    silences,
    checks,
  };
  sources.push(new DeviceSource(place, device, openStream(seed, key, 'device'), path));
  const faults = [
    ...own.faults,
    ...tellIntervals('outage', ownOutages),
    ...tellIntervals('network-outage', networkOutages),
    ...tellIntervals('silence', silences),
    ...tellIntervals('check', checks),
    ...device.clock.steps.map((step) => ({
      kind: 'clock-step',
      at: span.from + step.atMinute * MINUTE_MS,
      to: null,
      detail: `${step.byMs} ms`,
    })),
  ];
  return { motor: motor.name, train, segments: own.segments, passage, faults };
}

/** Returns what goes wrong with the reporter; drops are added to the list as they happen. */
function addDrive(
  { scenario, seed, span, lives, networkOutages }: Site,
  motor: MotorScenario,
  sources: Source[],
): Fault[] {
  const { drive, name } = motor;
  const draw = (what: string, wish: typeof drive.silences): Interval[] =>
    drawIntervals(openStream(seed, name, 'drive', what), wish, span, wish.minutes * MINUTE_MS);
  const ownOutages = draw('outages', drive.outages);
  const silences = draw('silences', drive.silences);
  const faults: Fault[] = [
    ...tellIntervals('outage', ownOutages),
    ...tellIntervals('network-outage', networkOutages),
    ...tellIntervals('silence', silences),
  ];
  const passage: Passage = { dropped: 0, duplicated: 0, reordered: 0, faults };
  const path = new NetworkPath(scenario.network, openStream(seed, name, 'drive', 'network'), passage);
  const outages = joinIntervals([...ownOutages, ...networkOutages]);
  const place = { site: scenario.site, life: lives.get(name)!, span, outages, silences };
  sources.push(new DriveSource(place, drive, openStream(seed, name, 'drive'), path));
  return faults;
}

function tellIntervals(kind: string, intervals: readonly Interval[]): Fault[] {
  return intervals.map(({ from, to }) => ({ kind, at: from, to }));
}

function tellPlant(
  { scenario, seed, span, lives, bursts }: Site,
  records: ReadonlyMap<string, SensorRecord>,
  motorFaults: ReadonlyMap<string, readonly Fault[]>,
): Truth {
  const motors = [...lives].map(
    ([name, life]) => [name, tellMotor(life, motorFaults.get(name) ?? [], span)] as const,
  );
  const sensors = [...records].map(([key, record]) => {
    return [key, tellSensor(record, lives.get(record.motor)!, span)] as const;
  });
  return {
    site: scenario.site,
    seed,
    from: span.from,
    to: span.to,
    motors: Object.fromEntries(motors),
    sensors: Object.fromEntries(sensors),
    siteBursts: bursts.map(({ from, to, zone }) => ({
      kind: 'site-burst',
      at: from,
      to,
      detail: zone ?? 'everywhere',
    })),
  };
}
