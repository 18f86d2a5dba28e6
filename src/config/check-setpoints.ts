/** Setpoints against what counting can tell: a limit that no count could ever decide is refused. */
import { largestResolvableSetpoint, smallestResolvableSetpoint } from '../stats/poisson.js';
import type { Config, MotorConfig, RateAlarmConfig } from './config.js';
import { formatDuration, formatNumber } from './figures.js';
import type { MergedEntry } from './merge.js';
import { plausibleMaxRatePerS, rateAlarmConfidence } from './plan.js';
import type { Report } from './report.js';

export function checkResolution(
  built: readonly { entry: MergedEntry; motors: readonly MotorConfig[] }[],
  config: Config,
  report: Report,
): void {
  const confidence = rateAlarmConfidence(config);
  for (const { entry, motors } of built) {
    const [motor] = motors;
    for (const alarm of motor?.rateAlarms ?? []) {
      checkSmallest(entry, alarm, alarm.confidence ?? confidence, report);
      if (motor !== undefined) checkLargest(entry, motor, alarm, report);
    }
  }
}

/** The alarm must be able to return: silence over a whole window must show a rate below setpoint - deadband. */
function checkSmallest(entry: MergedEntry, alarm: RateAlarmConfig, confidence: number, report: Report): void {
  const least = smallestResolvableSetpoint(alarm.windowMs, confidence);
  const threshold = alarm.setpointPerMin - alarm.deadbandPerMin;
  // a deadband that leaves nothing has been reported already
  if (threshold > least || threshold <= 0) return;
  const smallest = (Math.floor((least + alarm.deadbandPerMin) * 100) + 1) / 100;
  const window = formatDuration(alarm.windowMs);
  const expected = `a setpoint of at least ${formatNumber(smallest)}/min, the smallest that the counts of ${window} can resolve`;
  const hint = 'a longer windowMs resolves smaller ones';
  const path = entry.where(['alarms', alarm.kind, 'setpointPerMin']);
  report.error(path, expected, `${formatNumber(alarm.setpointPerMin)}/min`, { hint });
}

/** The alarm must be able to rise: below the rate that is believed, and below what the dead time hides. */
function checkLargest(entry: MergedEntry, motor: MotorConfig, alarm: RateAlarmConfig, report: Report): void {
  const watched = motor.positions.filter(({ position }) => alarm.positions.includes(position));
  for (const position of watched) {
    const believedPerMin = plausibleMaxRatePerS(position, motor.drive) * 60;
    const openPerMin = largestResolvableSetpoint(position.deadTimeUs / 1_000_000);
    const most = Math.min(believedPerMin, openPerMin);
    if (alarm.setpointPerMin < most) continue;
    const why =
      openPerMin < believedPerMin ? 'where its dead time hides half' : 'the highest that is believed';
    const expected = `a setpoint below ${formatNumber(most)}/min at ${position.position}, ${why}`;
    const path = entry.where(['alarms', alarm.kind, 'setpointPerMin']);
    report.error(path, expected, `${formatNumber(alarm.setpointPerMin)}/min`);
  }
}
