/** Setpoints against what counting can tell: a limit that no count in its window could decide is refused. */
import type { Config, MotorConfig } from './config.js';
import { formatDuration, formatNumber } from './figures.js';
import type { MergedEntry } from './merge.js';
import { rateAlarmConfidence } from './plan.js';
import type { Report } from './report.js';

/**
 * The upper limit of the rate when a whole window passes without one discharge, per minute of running: exact Poisson,
 * −ln((1 − confidence) / 2) over the exposure. A return threshold at or below it cannot be told from silence.
 */
export function silentUpperLimitPerMin(windowMs: number, confidence: number): number {
  return -Math.log((1 - confidence) / 2) / (windowMs / 60_000);
}

export function checkResolution(
  built: readonly { entry: MergedEntry; motors: readonly MotorConfig[] }[],
  config: Config,
  report: Report,
): void {
  const confidence = rateAlarmConfidence(config);
  for (const { entry, motors } of built) {
    for (const alarm of motors[0]?.rateAlarms ?? []) {
      const least = silentUpperLimitPerMin(alarm.windowMs, confidence);
      const threshold = alarm.setpointPerMin - alarm.deadbandPerMin;
      if (threshold > least || threshold <= 0) continue;
      const smallest = Math.ceil((least + alarm.deadbandPerMin) * 100 + 1) / 100;
      const expected = `a setpoint of at least ${formatNumber(smallest)}/min, the smallest that the counts of ${formatDuration(alarm.windowMs)} can resolve`;
      const hint = 'a longer windowMs resolves smaller ones';
      report.error(
        entry.where(['alarms', alarm.kind, 'setpointPerMin']),
        expected,
        `${formatNumber(alarm.setpointPerMin)}/min`,
        { hint },
      );
    }
  }
}
