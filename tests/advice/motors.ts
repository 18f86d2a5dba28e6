/** Motors with little known, for tests to add to. */
import type {
  ActionEvidence,
  MotorEvidence,
  RateEvidence,
  SensorEvidence,
} from '../../src/advice/evidence.js';

/** A rate with limits a tenth either way, over ten hours. */
export function rate(perS: number, share = 0.1): RateEvidence {
  const ms = 36_000_000;
  return {
    perS,
    lowerPerS: perS * (1 - share),
    upperPerS: perS * (1 + share),
    pulses: Math.round((perS * ms) / 1000),
    ms,
  };
}

export function sensor(position: string, known: Partial<SensorEvidence> = {}): SensorEvidence {
  return {
    sensor: `pump-1/${position}`,
    position,
    running: rate(1),
    background: null,
    bypass: null,
    commonPulses: 0,
    sisters: null,
    baseline: null,
    axes: [],
    neighbours: [],
    faults: null,
    ...known,
  };
}

export function motor(known: Partial<MotorEvidence> = {}): MotorEvidence {
  return {
    motor: 'pump-1',
    powerKw: null,
    frameMm: null,
    sensors: [sensor('de')],
    actions: [],
    findings: [],
    ...known,
  };
}

export function action(kind: string, known: Partial<ActionEvidence> = {}): ActionEvidence {
  return { id: `${kind}-1`, kind, end: null, bearing: null, at: 0, effect: null, ...known };
}
