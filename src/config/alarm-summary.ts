/** Which alarms a configuration has, what each of them waits for, and how often all of them together may be false. */
import { budgetOf, deviationBudgetOf } from './alarm-budget.js';
import type { Config, MotorConfig } from './config.js';
import { formatDuration, formatNumber } from './figures.js';
import { conditionOnDelayMs, maxIntervalMs, rateAlarmConfidence } from './plan.js';
import type { MotorPattern } from './motor-pattern.js';

/** Fewer motors on one duty have no odd one out. Source: section 6 of the design; core/deviation/peers.ts judges by it. */
const PEERS_MIN = 4;

export function describeAlarms(config: Config, rows: readonly MotorPattern[]): string[] {
  return [
    ...describeBudget(config),
    ...rows.flatMap(({ first, pattern }) => [
      ...describeRateAlarms(first, pattern),
      describeConditions(first, pattern, config),
      ...describeDeviations(first, pattern, config),
    ]),
  ];
}

/** Without rate alarms nothing judges by their limits, and the deviation alarms spend what is theirs alone. */
function describeBudget(config: Config): string[] {
  const { alarmBudget, motors } = config;
  const stated = alarmBudget.falseAlarmsPerMonth;
  if (motors.some((motor) => motor.rateAlarms.length > 0)) {
    const percent = `${Number((rateAlarmConfidence(config) * 100).toPrecision(8))} %`;
    const budget = formatNumber(budgetOf(stated));
    return [
      `  rate alarms judge by limits at ${percent}; with the deviation alarms at most ${budget} a month are false over the plant`,
    ];
  }
  if (motors.every((motor) => motor.deviationAlarms.length === 0)) return [];
  const often = describeOften(deviationBudgetOf(stated, motors.length));
  return [`  no rate alarms: no setpoint is configured; of the deviation alarms at most ${often} is false`];
}

function describeOften(perMonth: number): string {
  const years = 1 / (12 * perMonth);
  return years < 1 ? `${formatNumber(perMonth)} a month` : `one in ${formatNumber(Math.floor(years))} years`;
}

function describeRateAlarms(motor: MotorConfig, pattern: string): string[] {
  return motor.rateAlarms.map((alarm) => {
    const names = alarm.positions.map((position) => `${position}-${alarm.kind}`).join(', ');
    const delays = `after ${formatDuration(alarm.onDelayMs)}, returns after ${formatDuration(alarm.offDelayMs)} of running`;
    const limits = `above ${formatNumber(alarm.setpointPerMin)}/min, deadband ${formatNumber(alarm.deadbandPerMin)}/min`;
    return `  ${pattern}: ${names}  ${alarm.priority}, ${limits}, over ${formatDuration(alarm.windowMs)}, ${delays}`;
  });
}

function describeConditions(motor: MotorConfig, pattern: string, config: Config): string {
  const longest = Math.max(
    0,
    ...motor.positions.map((position) => maxIntervalMs(position, config.gate.maxIntervalFactor)),
  );
  const kinds = motor.conditionAlarms.map(
    (alarm) => `${alarm.kind} (${describeDelay(conditionOnDelayMs(alarm, longest))})`,
  );
  return `  ${pattern}: ${kinds.length === 0 ? 'no condition alarms' : kinds.join(', ')}`;
}

function describeDelay(ms: number): string {
  return ms === 0 ? 'at once' : `after ${formatDuration(ms)}`;
}

/** Nobody set them up, so they are named, with what they judge by. Those that lack sisters for good say so. */
function describeDeviations(motor: MotorConfig, pattern: string, config: Config): string[] {
  const sisters = config.motors.filter(({ dutyGroup }) => dutyGroup === motor.dutyGroup).length;
  const kinds = motor.deviationAlarms.map(({ kind, factor, setpointPerMin }) => {
    if (kind === 'above-peers' && sisters < PEERS_MIN)
      return `${kind} (never: ${PEERS_MIN} motors on one duty are needed, not ${sisters})`;
    if (kind === 'silent-in-company' && sisters === 1) return `${kind} (never: it has no sisters)`;
    if (setpointPerMin !== null) return `${kind} (above ${formatNumber(setpointPerMin)}/min)`;
    return kind === 'rising' || kind === 'silent-in-company'
      ? kind
      : `${kind} (${formatNumber(factor)} times)`;
  });
  return kinds.length === 0 ? [] : [`  ${pattern}: ${kinds.join(', ')}`];
}
