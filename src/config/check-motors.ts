/**
 * What the schema cannot see in one motor: numbers that contradict one another, names that lead nowhere.
 * Checked once per entry of the file, so that a row of forty motors complains once.
 */
import type { MotorConfig, PositionConfig, RateAlarmConfig } from './config.js';
import { expandBraces } from './expansion.js';
import { formatDuration, formatNumber } from './figures.js';
import type { MergedEntry } from './merge.js';
import { SENSOR_ALARM_KINDS } from './motor-defaults.js';
import { conditionOnDelayMs, maxIntervalMs, plausibleMaxRatePerS } from './plan.js';
import type { Report } from './report.js';
import { suggestWord } from './suggestion.js';

/** A drive's silence must be noticed before the wait for its state ends. */
const HEARTBEAT_MS_MAX = 45_000;
/** An alarm is a topic level. */
const ALARM_NAME_LENGTH_MAX = 40;

/** `motor`: any one of the entry, for they are alike. `known`: every motor of the file. */
export function checkEntry(
  entry: MergedEntry,
  motor: MotorConfig,
  known: readonly string[],
  factor: number,
  report: Report,
): void {
  for (const position of motor.positions) {
    checkCounter(entry, motor, position, factor, report);
    checkInterval(entry, motor, position, factor, report);
    checkAlarmNames(entry, motor, position, report);
    checkCoupling(entry, position, known, report);
  }
  for (const alarm of motor.rateAlarms) checkRateAlarm(entry, motor, alarm, report);
  checkEscalation(entry, motor, report);
  checkDrive(entry, motor, report);
}

function checkCounter(
  entry: MergedEntry,
  motor: MotorConfig,
  position: PositionConfig,
  factor: number,
  report: Report,
): void {
  const { counterBits, intervalMs } = position;
  if (counterBits === 53) return;
  const maxRate = plausibleMaxRatePerS(position, motor.drive);
  const wrapMs = (2 ** counterBits / maxRate) * 1_000;
  const longestMs = maxIntervalMs(position, factor);
  const path = entry.where(['positions', position.position, 'counterBits']);
  const speed = `at ${formatNumber(Math.round(maxRate))} discharges a second`;
  const found = `${counterBits} bits, which ${speed} wrap in ${formatDuration(wrapMs)}`;
  const enough = (ms: number): string => formatNumber(Math.floor((2 ** counterBits * 1_000) / ms));
  if (wrapMs < intervalMs) {
    const hint = `if the sensor never counts faster, configure maxRatePerS of at most ${enough(intervalMs)}, better ${enough(longestMs)}`;
    report.error(
      path,
      `a counter that does not wrap within the reporting interval of ${formatDuration(intervalMs)}`,
      found,
      { hint },
    );
  } else if (wrapMs < longestMs) {
    const hint = `after a lost reading the count is unknown; maxRatePerS of at most ${enough(longestMs)} would prove it`;
    report.warn(
      path,
      `a counter that does not wrap within the longest usable interval of ${formatDuration(longestMs)}`,
      found,
      { hint },
    );
  }
}

function checkInterval(
  entry: MergedEntry,
  motor: MotorConfig,
  position: PositionConfig,
  factor: number,
  report: Report,
): void {
  const alarm = motor.conditionAlarms.find(({ kind }) => kind === 'no-readings');
  if (alarm === undefined) return;
  const longestMs = maxIntervalMs(position, factor);
  const onDelayMs = conditionOnDelayMs(alarm, longestMs);
  if (onDelayMs >= position.intervalMs) return;
  const expected = `an on-delay of at least the reporting interval of ${position.position}, ${formatNumber(position.intervalMs)}`;
  report.error(entry.where(['alarms', 'no-readings', 'onDelayMs']), expected, formatNumber(onDelayMs));
}

function checkAlarmNames(
  entry: MergedEntry,
  motor: MotorConfig,
  position: PositionConfig,
  report: Report,
): void {
  const kinds = [
    ...motor.rateAlarms
      .filter((alarm) => alarm.positions.includes(position.position))
      .map(({ kind }) => kind),
    ...motor.conditionAlarms.filter(({ kind }) => SENSOR_ALARM_KINDS.includes(kind)).map(({ kind }) => kind),
  ];
  const longest =
    kinds.map((kind) => `${position.position}-${kind}`).sort((a, b) => b.length - a.length)[0] ?? '';
  if (longest.length <= ALARM_NAME_LENGTH_MAX) return;
  const expected = `a position so short that its alarms' names have at most ${ALARM_NAME_LENGTH_MAX} letters`;
  report.error(entry.where(['positions', position.position]), expected, `"${longest}"`, { at: 'key' });
}

function checkCoupling(
  entry: MergedEntry,
  position: PositionConfig,
  known: readonly string[],
  report: Report,
): void {
  const fragment = entry.fragment.positions?.[position.position];
  if (fragment === undefined || fragment === null || fragment === false) return;
  (fragment.coupledTo ?? []).forEach((pattern, index) => {
    const path = entry.where(['positions', position.position, 'coupledTo', index]);
    checkNames(pattern, path, known, 'a motor of this file', report);
  });
}

/** Every text that `pattern` stands for must be known; the first that is not is reported. */
export function checkNames(
  pattern: string,
  path: readonly (string | number)[],
  known: readonly string[],
  expected: string,
  report: Report,
): void {
  const expansion = expandBraces(pattern);
  if (!expansion.ok) {
    report.error(path, expansion.expected, expansion.found);
    return;
  }
  const names = new Set(known);
  const missing = expansion.texts.find((text) => !names.has(text));
  if (missing !== undefined)
    report.error(path, expected, `"${missing}"`, { suggestion: suggestWord(missing, known) });
}

function checkRateAlarm(
  entry: MergedEntry,
  motor: MotorConfig,
  alarm: RateAlarmConfig,
  report: Report,
): void {
  const { kind, setpointPerMin, deadbandPerMin } = alarm;
  if (deadbandPerMin >= setpointPerMin) {
    const expected = `a deadband below the setpoint of ${formatNumber(setpointPerMin)}/min`;
    const hint = 'the alarm returns below setpoint - deadband, which no rate ever is';
    report.error(
      entry.where(['alarms', kind, 'deadbandPerMin']),
      expected,
      `${formatNumber(deadbandPerMin)}/min`,
      { hint },
    );
  }
  const positions = motor.positions.map(({ position }) => position);
  alarm.positions.forEach((position, index) => {
    if (positions.includes(position) || positions.length === 0) return;
    const suggestion = suggestWord(position, positions);
    const path = entry.where(['alarms', kind, 'positions', index]);
    report.error(path, `one of the motor's positions ${positions.join(', ')}`, `"${position}"`, {
      suggestion,
    });
  });
}

function checkEscalation(entry: MergedEntry, motor: MotorConfig, report: Report): void {
  const high = motor.rateAlarms.find(({ kind }) => kind === 'rate-high');
  const higher = motor.rateAlarms.find(({ kind }) => kind === 'rate-high-high');
  if (high === undefined || higher === undefined || higher.setpointPerMin > high.setpointPerMin) return;
  if (!higher.positions.some((position) => high.positions.includes(position))) return;
  const expected = `a setpoint above that of rate-high, ${formatNumber(high.setpointPerMin)}/min`;
  const path = entry.where(['alarms', 'rate-high-high', 'setpointPerMin']);
  report.error(path, expected, `${formatNumber(higher.setpointPerMin)}/min`);
}

function checkDrive(entry: MergedEntry, motor: MotorConfig, report: Report): void {
  const { heartbeatMs, runState } = motor.drive;
  if (runState === 'none' && heartbeatMs !== null) {
    const hint = 'nobody reports the state of this drive';
    report.error(
      entry.where(['drive', 'heartbeatMs']),
      'no heartbeat, since runState is none',
      formatNumber(heartbeatMs),
      { hint },
    );
  } else if (heartbeatMs !== null && heartbeatMs > HEARTBEAT_MS_MAX) {
    const hint =
      'the wait for a run state ends after 60 s by default, so readings would often stay unattributed';
    report.warn(
      entry.where(['drive', 'heartbeatMs']),
      `a heartbeat of at most ${formatNumber(HEARTBEAT_MS_MAX)} ms`,
      formatNumber(heartbeatMs),
      { hint },
    );
  }
}
