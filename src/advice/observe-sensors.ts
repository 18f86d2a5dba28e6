/** Observations that the counts of the motor's sensors make. Thresholds are our choices, each with its reason. */
import type { ConditionAxis, MotorEvidence, RateEvidence, SensorEvidence } from './evidence.js';
import { namePosition } from './fleet.js';
import { ALIKE_FACTOR, courseOf, likenessOf, writeFactor, writeRatio } from './judgement.js';
import type { Observation } from './observation.js';

/** Background below a tenth of the running rate follows modulation: what is left may be any interference. */
const FOLLOWS_SHARE = 0.1;
/** Background at half the running rate or more needs no modulation at all. */
const WITHOUT_SHARE = 0.5;
/** A fifth of what the sensor heard while running being common points outside the motor; a twentieth does not. */
const COMMON_MANY = 0.2;
const COMMON_FEW = 0.05;
/** Fewer pulses than this say nothing about a share. */
const PULSES_MIN = 100;

const AXIS_WORDS: Readonly<Record<ConditionAxis, string>> = {
  speed: 'speed',
  load: 'load',
  switching: 'switching frequency',
  temperature: 'temperature at the sensor',
  dcLink: 'DC link voltage',
};

export const AXES = Object.keys(AXIS_WORDS) as readonly ConditionAxis[];

/** The sensor that discharges most while running; null: none does, so there is nothing to explain. */
function loudest(sensors: readonly SensorEvidence[]): SensorEvidence | null {
  const ran = sensors.filter(({ running }) => running !== null && running.pulses > 0);
  return ran.reduce<SensorEvidence | null>(
    (best, each) => (best === null || each.running!.perS > best.running!.perS ? each : best),
    null,
  );
}

/** Bounds of a/b from the limits of both: wider than 95 % limits of the ratio, so it decides late rather than wrongly. */
function boundRatio(
  a: RateEvidence,
  b: RateEvidence,
): { ratio: number; lower: number; upper: number | null } {
  return {
    ratio: b.perS > 0 ? a.perS / b.perS : Infinity,
    lower: b.upperPerS > 0 ? a.lowerPerS / b.upperPerS : 0,
    upper: b.lowerPerS > 0 ? a.upperPerS / b.lowerPerS : null,
  };
}

export function observeEnds({ sensors }: MotorEvidence): Observation {
  const ran = sensors.filter(({ running }) => running !== null);
  const most = loudest(ran);
  const others = ran.filter((each) => each !== most);
  if (most === null || others.length === 0) {
    return { id: 'ends', value: null, text: 'Only one end is heard: a sensor at the other end would tell.' };
  }
  const least = others.reduce((low, each) => (each.running!.perS < low.running!.perS ? each : low));
  const bounds = boundRatio(most.running!, least.running!);
  const likeness = likenessOf(bounds);
  const words = `${namePosition(most.position)} discharges ${writeRatio(bounds)} times as often as ${namePosition(least.position)}`;
  if (likeness === 'alike') return { id: 'ends', value: 'alike', text: `Both ends are alike: ${words}.` };
  if (likeness === 'more') return { id: 'ends', value: 'one-end', text: `One end stands out: ${words}.` };
  return { id: 'ends', value: null, text: `The counts do not yet tell one end from both: ${words}.` };
}

export function observeModulation({ sensors }: MotorEvidence): Observation {
  const most = loudest(sensors);
  if (most === null || most.background === null) {
    return {
      id: 'modulation',
      value: null,
      text: 'No counts without modulation yet: some minutes at standstill with the sensor alive would tell.',
    };
  }
  const { running, background } = most;
  const share = boundRatio(background, running!);
  const words =
    `without modulation ${namePosition(most.position)} counts ${writeFactor(background.perS)} a second, ` +
    `running ${writeFactor(running!.perS)}`;
  if (share.upper !== null && share.upper <= FOLLOWS_SHARE)
    return { id: 'modulation', value: 'follows', text: `Counts follow the own modulation: ${words}.` };
  if (share.lower >= WITHOUT_SHARE)
    return { id: 'modulation', value: 'without', text: `Counts are there without own modulation: ${words}.` };
  return { id: 'modulation', value: null, text: `Not clear whether counts follow modulation: ${words}.` };
}

export function observeBypass({ sensors }: MotorEvidence): Observation {
  const most = loudest(sensors.filter(({ bypass }) => bypass !== null));
  if (most === null) {
    return { id: 'bypass', value: null, text: 'The motor has not been seen running on line supply.' };
  }
  const share = boundRatio(most.bypass!, most.running!);
  const words = `on line supply ${namePosition(most.position)} counts ${writeRatio(share)} times as often as on the drive`;
  if (share.lower >= WITHOUT_SHARE)
    return { id: 'bypass', value: 'present', text: `Counts stay on line supply: ${words}.` };
  if (share.upper !== null && share.upper <= FOLLOWS_SHARE)
    return { id: 'bypass', value: 'absent', text: `Counts vanish on line supply: ${words}.` };
  return { id: 'bypass', value: null, text: `Not clear what line supply changes: ${words}.` };
}

export function observeAxis({ sensors }: MotorEvidence, axis: ConditionAxis): Observation {
  const word = AXIS_WORDS[axis];
  const most = loudest(sensors);
  const found = most?.axes.find((each) => each.axis === axis);
  if (most === null || found === undefined) {
    const text = `No counts over different ${word}, all else alike: condition bins on it would tell.`;
    return { id: axis, value: null, text };
  }
  const value = courseOf(found);
  const words = `${namePosition(most.position)} at ${word} ${found.high} counts ${writeRatio(found)} times as often as at ${found.low}`;
  const said =
    value === null
      ? `Not clear whether counts follow ${word}`
      : value === 'level'
        ? `Counts do not follow ${word}`
        : `Counts ${value === 'rises' ? 'rise' : 'fall'} with ${word}`;
  return { id: axis, value, text: `${said}: ${words}.` };
}

export function observeNeighbour({ sensors }: MotorEvidence): Observation {
  const heard = sensors.flatMap((sensor) => sensor.neighbours.map((each) => ({ ...each, sensor })));
  if (heard.length === 0) {
    const text =
      'Background was not compared with any neighbour: it takes standstill here while a neighbour starts and stops.';
    return { id: 'neighbour', value: null, text };
  }
  const first = heard.reduce((best, each) => (each.lower > best.lower ? each : best));
  const words =
    `without own modulation ${namePosition(first.sensor.position)} counts ${writeRatio(first)} times as often ` +
    `while ${first.motor} modulates`;
  if (first.lower > ALIKE_FACTOR)
    return { id: 'neighbour', value: 'follows', text: `Background follows ${first.motor}: ${words}.` };
  if (heard.every(({ upper }) => upper !== null && upper <= ALIKE_FACTOR))
    return {
      id: 'neighbour',
      value: 'none',
      text: `Background follows no neighbour: most with ${first.motor}.`,
    };
  return {
    id: 'neighbour',
    value: null,
    text: `Not clear whether background follows a neighbour: ${words}.`,
  };
}

export function observeCommonBursts({ sensors }: MotorEvidence): Observation {
  const most = loudest(sensors);
  const total = (most?.running?.pulses ?? 0) + (most?.commonPulses ?? 0);
  if (most === null || total < PULSES_MIN) {
    return {
      id: 'commonBursts',
      value: null,
      text: 'Too few pulses to say which share came as common bursts.',
    };
  }
  const share = most.commonPulses / total;
  const words = `${writeFactor(100 * share)} % of the pulses of ${namePosition(most.position)} came in bursts heard on several motors at once`;
  if (share >= COMMON_MANY) return { id: 'commonBursts', value: 'many', text: `${words}.` };
  return { id: 'commonBursts', value: share <= COMMON_FEW ? 'few' : null, text: `${words}.` };
}

export function observeSisters({ sensors }: MotorEvidence): Observation {
  const compared = sensors.filter(({ sisters }) => sisters !== null);
  if (compared.length === 0) {
    return {
      id: 'sisters',
      value: null,
      text: 'No sisters on the same duty to compare with, or not enough shared time.',
    };
  }
  const most = compared.reduce((best, each) => (each.sisters!.lower > best.sisters!.lower ? each : best));
  const words = `${namePosition(most.position)} discharges ${writeRatio(most.sisters!)} times as often as the median of its sisters`;
  const likeness = likenessOf(most.sisters!);
  if (likeness === 'more')
    return { id: 'sisters', value: 'odd', text: `It stands out of its group: ${words}.` };
  if (likeness === 'alike')
    return { id: 'sisters', value: 'alike', text: `It is like its sisters: ${words}.` };
  return { id: 'sisters', value: null, text: `Not clear how it stands in its group: ${words}.` };
}

export function observeDevice({ sensors }: MotorEvidence): Observation {
  const looked = sensors.filter(({ faults }) => faults !== null);
  if (looked.length === 0)
    return { id: 'device', value: null, text: 'Nobody looked at the notes on the devices.' };
  const bad = looked.flatMap(({ position, faults }) =>
    faults!.map((fault) => `${namePosition(position)}: ${fault}`),
  );
  if (bad.length > 0)
    return { id: 'device', value: 'faults', text: `Notes on the sensors: ${bad.join('; ')}.` };
  return {
    id: 'device',
    value: 'clean',
    text: 'The gateway noted nothing against the sensors or their wiring.',
  };
}
