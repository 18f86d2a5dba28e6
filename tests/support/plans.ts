/** Plans for tests of the core, built by hand: every figure in sight. */
import type { DutyGroupPlan, MotorPlan, Plan, RateAlarmPlan, SensorPlan } from '../../src/core/plan.js';

export const GATE = {
  beforeEdgeMs: 2000,
  afterRunningMs: 5000,
  afterStoppedMs: 10_000,
  capMs: 120_000,
  mergeMs: 5000,
  coupledMs: 1000,
  settleMs: 5000,
  settleWaitMs: 60_000,
  maxIntervalFactor: 3.15,
};

export const COMMON = {
  tail: 1e-4,
  windowsMin: 60,
  motorsMin: 3,
  shareMin: 0.3,
  quietMs: 600_000,
  speedStep: 0.1,
};

export function sensorPlan(motor: string, position: string, change: Partial<SensorPlan> = {}): SensorPlan {
  return {
    key: `${motor}/${position}`,
    motor,
    position,
    intervalMs: 10_000,
    counterBits: 53,
    maxRatePerS: 50_000,
    deadTimeS: 0,
    coupledMotors: [],
    clockErrorMs: 1000,
    reorderWaitMs: 15_000,
    ...change,
  };
}

export function motorPlan(key: string, change: Partial<MotorPlan> = {}): MotorPlan {
  return {
    key,
    zone: 'hall',
    dutyGroup: '',
    hasRunState: true,
    heartbeatMs: null,
    rampMs: 0,
    clockErrorMs: 1000,
    ...change,
  };
}

export function makePlan(motors: MotorPlan[], sensors: SensorPlan[], change: Partial<Plan> = {}): Plan {
  return {
    site: 'tarn-hollow',
    revision: 'test',
    reviseHorizonMs: 7 * 86_400_000,
    futureToleranceMs: 120_000,
    gate: GATE,
    common: COMMON,
    motors: new Map(motors.map((motor) => [motor.key, motor])),
    sensors: new Map(sensors.map((sensor) => [sensor.key, sensor])),
    dutyGroups: new Map(),
    shelfMaxMs: 86_400_000,
    groupAlarms: {},
    rateAlarms: [],
    conditionAlarms: [],
    baseline: { ageMaxMs: 400 * 86_400_000, unvisitedMaxMs: 120 * 86_400_000 },
    deviationAlarms: [],
    ...change,
  };
}

export function rateAlarm(
  sensor: string,
  setpointPerMin: number,
  change: Partial<RateAlarmPlan> = {},
): RateAlarmPlan {
  const [motor, position] = sensor.split('/') as [string, string];
  return {
    id: `${motor}.${position}-rate-high`,
    motor,
    alarm: `${position}-rate-high`,
    sensor,
    kind: 'rate-high',
    setpointPerMin,
    deadbandPerMin: setpointPerMin / 5,
    onDelayMs: 300_000,
    offDelayMs: 600_000,
    windowMs: 600_000,
    confidence: 0.95,
    latching: false,
    priority: 'low',
    class: 'condition',
    timeToRespondMs: null,
    consequence: 'bearing wear',
    action: 'look at it',
    rationale: 'invented for the test',
    ...change,
  };
}

/** A duty group with fixed edges on speed, load and temperature. */
export function binnedGroup(key: string): DutyGroupPlan {
  const fixed = { learn: 0, learnSince: null };
  return {
    key,
    axes: [
      { axis: 'speed', edges: [1500], deadband: 30, ...fixed },
      { axis: 'load', edges: [50], deadband: 10, ...fixed },
      { axis: 'temperature', edges: [45], deadband: 0, ...fixed },
    ],
  };
}
