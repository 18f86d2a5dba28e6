/** The rate of one sensor now, or why there is none: silent, never heard, not running yet. Old values look old. */
import { now } from '../data/clock.js';
import { heardUntil, isLost } from '../data/live-link.js';
import type { MotorBody, RateBody, SensorBody } from '../data/bodies.js';
import { formatRate, formatSpan, MINUTE_MS } from '../times.js';

/** Three intervals without a reading are a silence; a window takes up to a minute more until it is final. */
const MISSED_INTERVALS = 3;
const SETTLE_MS = 75_000;
/** A rate whose running exposure ended so long ago is one of the past. */
const PAST_MS = 2 * MINUTE_MS;

/** When the sensor was heard last, ms: its last reading, or the end of the last window that held anything. Null: never. */
export function heardAt(sensor: SensorBody, rate: RateBody | null): number | null {
  const reading = sensor.last_reading_at === null ? null : Date.parse(sensor.last_reading_at);
  const hasCounted = rate !== null && Object.values(rate.window.classes).some(({ ms }) => ms > 0);
  const window = hasCounted ? Date.parse(rate.window.end) : null;
  if (reading === null || window === null) return reading ?? window;
  return Math.max(reading, window);
}

export function isSilent(sensor: SensorBody, rate: RateBody | null, at: number): boolean {
  const heard = heardAt(sensor, rate);
  return heard === null || at - heard > MISSED_INTERVALS * sensor.interval_ms + SETTLE_MS;
}

/** `motor`: for why there is no rate. */
export function SensorValue({
  sensor,
  rate,
  motor,
}: {
  sensor: SensorBody;
  rate: RateBody | null;
  motor: MotorBody;
}) {
  // a page that lost its gateway knows nothing of the sensor's silence since then
  const at = heardUntil.value ?? now.value;
  const heard = heardAt(sensor, rate);
  if (heard === null) return <span class="sensor-value is-stale">never heard</span>;
  if (isSilent(sensor, rate, at))
    return <span class="sensor-value is-stale">silent for {formatSpan(at - heard)}</span>;
  if (rate === null || rate.rate_per_min === null) {
    const why =
      motor.run_state === 'unknown' && motor.has_run_state ? 'run state unknown' : 'has not run yet';
    return <span class="sensor-value quiet">{why}</span>;
  }
  const pastMs = at - Date.parse(rate.to);
  const isPast = pastMs > PAST_MS;
  const sign = rate.quality === 'good' ? '' : '≈ ';
  return (
    <span
      class={`sensor-value ${isLost.value ? 'is-stale' : isPast ? 'quiet' : ''}`}
      title={`${formatRate(rate.lower_per_min)} to ${formatRate(rate.upper_per_min)} a minute with 95 % confidence, quality ${rate.quality}`}
    >
      {isPast && <span class="sensor-value-past">ran at </span>}
      <strong>
        {sign}
        {formatRate(rate.rate_per_min)}
      </strong>
      <span class="sensor-value-unit">/min</span>
      {isPast && <span class="sensor-value-past"> {formatSpan(pastMs)} ago</span>}
    </span>
  );
}
