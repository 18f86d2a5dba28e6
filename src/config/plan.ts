/** From configuration to the core's plan: every limit worked out, no default left to guess. */
import type { ConditionAlarmPlan, MotorPlan, Plan, RateAlarmPlan, SensorPlan } from '../core/plan.js';
import { budgetOf, confidenceWithin, deviationBudgetOf } from './alarm-budget.js';
import type { ConditionAlarmConfig, Config, DriveConfig, MotorConfig, PositionConfig } from './config.js';
import { countDeviationAlarms, planDeviationAlarms } from './deviation-alarms.js';
import { DEFAULT_CONDITION_ALARM, DEFAULT_MAX_RATE_PER_S, SENSOR_ALARM_KINDS } from './motor-defaults.js';
import { planForwardingAlarms } from './forwarding-alarm.js';
import { hashRevision } from './revision.js';

const DAY_MS = 86_400_000;

export function toPlan(config: Config): Plan {
  const { motors } = config;
  const sensors = motors.flatMap((motor) => motor.positions.map((position) => planSensor(motor, position)));
  return {
    site: config.site,
    revision: hashRevision(config),
    reviseHorizonMs: Math.round(config.core.reviseHorizonDays * DAY_MS),
    futureToleranceMs: config.core.futureToleranceMs,
    gate: config.gate,
    common: config.common,
    dutyGroups: new Map(config.dutyGroups.map((group) => [group.key, group])),
    nameplates: new Map(
      motors
        .filter(({ nameplate }) => nameplate.powerKw !== null || nameplate.frameMm !== null)
        .map(({ key, nameplate }) => [key, nameplate]),
    ),
    motors: new Map(motors.map((motor) => [motor.key, planMotor(motor)])),
    sensors: new Map(sensors.map((sensor) => [sensor.key, sensor])),
    shelfMaxMs: Math.round(config.alarms.shelfHoursMax * 3_600_000),
    groupAlarms: config.alarms.groups,
    rateAlarms: planRateAlarms(config),
    baseline: {
      ageMaxMs: config.baseline.ageMaxDays * DAY_MS,
      unvisitedMaxMs: config.baseline.unvisitedMaxDays * DAY_MS,
    },
    deviationAlarms: planDeviationAlarms(config, deviationShare(config)),
    conditionAlarms: motors.flatMap((motor) => planConditionAlarms(motor, config.gate.maxIntervalFactor)),
    forwardingAlarms: planForwardingAlarms(config.alarms['forwarding-behind'], config.sinks),
  };
}

/**
 * Two-sided confidence of every rate alarm's limits on this plant. The budget is halved between rate and deviation alarms
 * where there are both, so that many kinds of the one do not take the resolution from the other. An alarm with a confidence of
 * its own is outside the budget.
 */
export function rateAlarmConfidence(config: Config): number {
  const lookedAt = config.motors.flatMap((motor) =>
    motor.rateAlarms
      .filter(({ confidence }) => confidence === null)
      .flatMap((alarm) => alarm.positions.map(() => alarm)),
  );
  const half = countDeviationAlarms(config.motors) > 0 ? 0.5 : 1;
  return confidenceWithin(half * budgetOf(config.alarmBudget.falseAlarmsPerMonth), lookedAt);
}

/** False alarms a month that each deviation alarm may raise. */
export function deviationShare(config: Config): number {
  const alarms = countDeviationAlarms(config.motors);
  const half = config.motors.some((motor) => motor.rateAlarms.length > 0) ? 0.5 : 1;
  const budget = deviationBudgetOf(config.alarmBudget.falseAlarmsPerMonth, config.motors.length);
  return alarms === 0 ? 0 : (half * budget) / alarms;
}

/**
 * Highest rate that is believed, per second: as configured; else the smaller of 1 / dead time (a non-paralysable sensor
 * cannot count faster) and six switching frequencies (a two-level three-leg inverter makes at most six common-mode
 * steps a carrier period), as far as they are known; else 50,000.
 */
export function plausibleMaxRatePerS(position: PositionConfig, drive: DriveConfig): number {
  if (position.maxRatePerS !== null) return position.maxRatePerS;
  const bounds: number[] = [];
  if (position.deadTimeUs > 0) bounds.push(1_000_000 / position.deadTimeUs);
  if (drive.switchingKhz !== null) bounds.push(6_000 * drive.switchingKhz);
  return bounds.length === 0 ? DEFAULT_MAX_RATE_PER_S : Math.min(...bounds);
}

/** Longest increment that the gate uses, in ms. */
export function maxIntervalMs(position: PositionConfig, maxIntervalFactor: number): number {
  return position.intervalMs * maxIntervalFactor;
}

/** The on-delay of a condition alarm. By default `no-readings` waits out the longest normal interval of its sensor. */
export function conditionOnDelayMs(alarm: ConditionAlarmConfig, longestMs: number): number {
  if (alarm.onDelayMs !== null) return alarm.onDelayMs;
  const standard = DEFAULT_CONDITION_ALARM[alarm.kind].onDelayMs;
  return alarm.kind === 'no-readings' ? Math.max(standard, Math.ceil(longestMs)) : standard;
}

function planMotor(motor: MotorConfig): MotorPlan {
  const { key, zone, dutyGroup, commissioning, drive } = motor;
  const { heartbeatMs, rampMs, clockErrorMs } = drive;
  return {
    key,
    zone,
    dutyGroup,
    hasRunState: drive.runState === 'reported',
    heartbeatMs,
    rampMs,
    clockErrorMs,
    ...(commissioning === null ? {} : { commissioning }),
  };
}

function planSensor(motor: MotorConfig, position: PositionConfig): SensorPlan {
  return {
    key: `${motor.key}/${position.position}`,
    motor: motor.key,
    position: position.position,
    intervalMs: position.intervalMs,
    counterBits: position.counterBits,
    maxRatePerS: plausibleMaxRatePerS(position, motor.drive),
    deadTimeS: position.deadTimeUs / 1_000_000,
    coupledMotors: position.coupledTo,
    clockErrorMs: position.clockErrorMs,
    reorderWaitMs: position.reorderWaitMs,
  };
}

function planRateAlarms(config: Config): RateAlarmPlan[] {
  const confidence = rateAlarmConfidence(config);
  return config.motors.flatMap((motor) =>
    motor.rateAlarms.flatMap(({ positions, ...settings }) =>
      positions.map((position) => {
        const alarm = `${position}-${settings.kind}`;
        return {
          id: `${motor.key}.${alarm}`,
          motor: motor.key,
          alarm,
          sensor: `${motor.key}/${position}`,
          ...settings,
          confidence: settings.confidence ?? confidence,
        };
      }),
    ),
  );
}

function planConditionAlarms(motor: MotorConfig, maxIntervalFactor: number): ConditionAlarmPlan[] {
  return motor.conditionAlarms.flatMap((settings): ConditionAlarmPlan[] => {
    if (!SENSOR_ALARM_KINDS.includes(settings.kind)) {
      const alarm = `drive-${settings.kind}`;
      const onDelayMs = conditionOnDelayMs(settings, 0);
      return [{ ...settings, id: `${motor.key}.${alarm}`, motor: motor.key, alarm, sensor: null, onDelayMs }];
    }
    return motor.positions.map((position) => {
      const alarm = `${position.position}-${settings.kind}`;
      const onDelayMs = conditionOnDelayMs(settings, maxIntervalMs(position, maxIntervalFactor));
      const sensor = `${motor.key}/${position.position}`;
      return { ...settings, id: `${motor.key}.${alarm}`, motor: motor.key, alarm, sensor, onDelayMs };
    });
  });
}
