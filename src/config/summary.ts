/**
 * What a configuration would do, in lines a controls engineer can hold against the wiring: topics, limits, setpoints,
 * and what it costs the disk.
 */
import type { AxisPlan } from '../core/plan.js';
import { describeAlarms } from './alarm-summary.js';
import type { Config, MotorConfig, PositionConfig } from './config.js';
import { formatDuration, formatNumber } from './figures.js';
import { countOf, describeOpenings, describeSinks } from './opening-summary.js';
import { maxIntervalMs, plausibleMaxRatePerS } from './plan.js';
import { groupByPattern, type MotorPattern } from './motor-pattern.js';
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
    ...describeSinks(config),
    ...describeBins(config),
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

function describeSite(config: Config): string[] {
  const { motors } = config;
  const sensors = motors.reduce((sum, motor) => sum + motor.positions.length, 0);
  const zones = new Set(motors.map((motor) => motor.zone)).size;
  return [
    `Site ${config.site}, times in ${config.timeZone}, configuration ${hashRevision(config)}`,
    ...describeOpenings(config),
    `${countOf(motors.length, 'motor')} with ${countOf(sensors, 'sensor')} in ${countOf(zones, 'zone')}`,
  ];
}

function describeMotors(row: MotorPattern, config: Config): string[] {
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

/** Without axes there is one bin, which needs no line. Ends with an empty line where there are any. */
function describeBins({ dutyGroups }: Config): string[] {
  if (dutyGroups.length === 0) return [];
  const lines = dutyGroups.map(({ key, axes }) => `  ${key}: ${axes.map(describeAxis).join('; ')}`);
  return ['Condition bins:', ...lines, ''];
}

function describeAxis({ axis, edges, learn, deadband }: AxisPlan): string {
  if (edges === null) return `${axis} in ${learn} bins, edges learnt from a week of running`;
  const band = deadband > 0 ? `, deadband ${formatNumber(deadband)}` : '';
  return `${axis} in ${edges.length + 1} bins, edges ${edges.join(', ')}${band}`;
}

function describeDrive(motor: MotorConfig): string {
  if (motor.drive.runState === 'none') return 'not reported: taken as running throughout, uncertain';
  if (motor.drive.heartbeatMs === null) return 'on change, while its reporter is present';
  return `on change and every ${formatDuration(motor.drive.heartbeatMs)}`;
}

function describeWrites(config: Config): string {
  const { minCommitIntervalMs } = config.storage;
  const pace =
    minCommitIntervalMs === 0 ? 'as readings come' : `at least ${formatDuration(minCommitIntervalMs)} apart`;
  return `Disk: at most ${formatNumber(countCommitsPerDay(config))} synced writes a day for readings, ${pace}`;
}
