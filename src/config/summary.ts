/**
 * What a configuration would do, in lines a controls engineer can hold against the wiring: topics, limits, setpoints,
 * and what it costs the disk.
 */
import type { Config, MotorConfig, PositionConfig } from './config.js';
import { formatEndpoint } from './endpoint.js';
import { formatDuration, formatNumber } from './figures.js';
import { budgetOf } from './alarm-budget.js';
import { conditionOnDelayMs, maxIntervalMs, plausibleMaxRatePerS, rateAlarmConfidence } from './plan.js';
import { hashRevision } from './revision.js';

const DAY_MS = 86_400_000;

export function summariseConfig(config: Config): string {
  const rows = groupByPattern(config.motors);
  return [
    ...describeSite(config),
    '',
    'Listens to:',
    ...rows.flatMap((row) => describeMotors(row, config)),
    '',
    'Alarms:',
    ...describeAlarms(config, rows),
    '',
    describeWrites(config),
  ].join('\n');
}

/** Most synced commits a day that readings cause: one for each reading, or one for each commit interval. */
export function countCommitsPerDay(config: Config): number {
  const positions = config.motors.flatMap((motor) => motor.positions);
  const readings = positions.reduce((sum, position) => sum + DAY_MS / position.intervalMs, 0);
  const { minCommitIntervalMs } = config.storage;
  return Math.round(minCommitIntervalMs === 0 ? readings : Math.min(readings, DAY_MS / minCommitIntervalMs));
}

interface Row {
  readonly pattern: string;
  readonly first: MotorConfig;
  readonly count: number;
}

function groupByPattern(motors: readonly MotorConfig[]): Row[] {
  const rows = new Map<string, Row>();
  for (const motor of motors) {
    const row = rows.get(motor.pattern);
    rows.set(motor.pattern, {
      pattern: motor.pattern,
      first: row?.first ?? motor,
      count: (row?.count ?? 0) + 1,
    });
  }
  return [...rows.values()];
}

function describeSite(config: Config): string[] {
  const { mqtt, http, motors } = config;
  const sensors = motors.reduce((sum, motor) => sum + motor.positions.length, 0);
  const zones = new Set(motors.map((motor) => motor.zone)).size;
  const logins =
    mqtt.users === null
      ? 'no logins: anyone on this machine may publish and subscribe'
      : `${countOf(mqtt.users.length, 'login')}: ${mqtt.users.map((user) => `${user.name} (${user.role})`).join(', ')}`;
  return [
    `Site ${config.site}, times in ${config.timeZone}, configuration ${hashRevision(config)}`,
    `MQTT on ${formatEndpoint(mqtt.listen)}, ${logins}`,
    `HTTP on ${formatEndpoint(http.listen)}`,
    `${countOf(motors.length, 'motor')} with ${countOf(sensors, 'sensor')} in ${countOf(zones, 'zone')}`,
  ];
}

function describeMotors(row: Row, config: Config): string[] {
  const { first, pattern } = row;
  const motors = row.count === 1 ? '' : ` (${row.count} motors)`;
  const root = `${config.site}/in/${pattern}`;
  const group = row.count > 1 && first.dutyGroup === first.key ? 'none' : first.dutyGroup;
  return [
    `  ${pattern}${motors}: zone ${first.zone}, duty group ${group}`,
    ...first.positions.map(
      (position) => `    ${root}/${position.position}/reading  ${describePosition(position, first, config)}`,
    ),
    `    ${root}/drive/state  ${describeDrive(first)}`,
  ];
}

function describePosition(position: PositionConfig, motor: MotorConfig, config: Config): string {
  const maxRate = plausibleMaxRatePerS(position, motor.drive);
  const width = position.counterBits === 53 ? 'no wrap' : `${position.counterBits} bits`;
  const longest = formatDuration(maxIntervalMs(position, config.gate.maxIntervalFactor));
  const parts = [
    `every ${formatDuration(position.intervalMs)} (usable to ${longest})`,
    width,
    `at most ${formatNumber(Math.round(maxRate))}/s`,
  ];
  if (position.deadTimeUs > 0) parts.push(`dead time ${formatNumber(position.deadTimeUs)} us`);
  if (position.coupledTo.length > 0) parts.push(`coupled to ${position.coupledTo.join(', ')}`);
  return parts.join(', ');
}

function describeDrive(motor: MotorConfig): string {
  if (motor.drive.runState === 'none') return 'not reported: taken as running throughout, uncertain';
  if (motor.drive.heartbeatMs === null) return 'on change, while its reporter is present';
  return `on change and every ${formatDuration(motor.drive.heartbeatMs)}`;
}

function describeAlarms(config: Config, rows: readonly Row[]): string[] {
  const confidence = rateAlarmConfidence(config);
  const budget = formatNumber(budgetOf(config.alarmBudget.falseAlarmsPerMonth));
  const percent = `${Number((confidence * 100).toPrecision(8))} %`;
  return [
    `  rate alarms judge by limits at ${percent}; with the deviation alarms at most ${budget} a month are false over the plant`,
    ...rows.flatMap(({ first, pattern }) => [
      ...describeRateAlarms(first, pattern),
      describeConditions(first, pattern, config),
    ]),
  ];
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

function countOf(count: number, noun: string): string {
  return `${formatNumber(count)} ${noun}${count === 1 ? '' : 's'}`;
}

function describeWrites(config: Config): string {
  const { minCommitIntervalMs } = config.storage;
  const pace =
    minCommitIntervalMs === 0 ? 'as readings come' : `at least ${formatDuration(minCommitIntervalMs)} apart`;
  return `Disk: at most ${formatNumber(countCommitsPerDay(config))} synced writes a day for readings, ${pace}`;
}
