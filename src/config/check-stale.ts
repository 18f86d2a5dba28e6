/** A limit of age that readings in good order would overstep. */
import type { Config } from './config.js';
import { formatDuration } from './figures.js';
import { FRESH_INTERVALS, FRESH_WAIT_MS } from './fresh.js';
import type { Path } from './problem.js';
import type { Report } from './report.js';

export function checkStale(path: Path, staleMs: number | null, config: Config, report: Report): void {
  if (staleMs === null) return;
  const slow = config.motors
    .flatMap((motor) => motor.positions.map((one) => ({ sensor: `${motor.key}/${one.position}`, ...one })))
    .sort((a, b) => b.intervalMs - a.intervalMs)[0];
  if (slow === undefined) return;
  // a window is final when the next reading and the run state behind it are there
  const leastMs = 2 * slow.intervalMs + 20_000;
  if (staleMs >= leastMs) return;
  const usual = formatDuration(FRESH_INTERVALS * slow.intervalMs + FRESH_WAIT_MS);
  const hint = `values of ${slow.sensor}, which reports every ${formatDuration(slow.intervalMs)}, would be unknown most of the time; left away it is ${usual} there`;
  report.warn(path, `at least ${formatDuration(leastMs)}`, formatDuration(staleMs), { hint });
}
