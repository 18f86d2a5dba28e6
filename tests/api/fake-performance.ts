/** A report on the alarms for tests of the HTTP interface: ten alarms in the hour before its end. */
import { reportPerformance, type Performance } from '../../src/advice/alarm-performance.js';
import type { PerformanceWish } from '../../src/api/alarm-performance-reader.js';

const HOUR_MS = 3_600_000;

export function fakePerformance({ from, to, positions, respondMs }: PerformanceWish): Performance {
  const alarm = 'pump-1.de-rate-high';
  const lines = Array.from({ length: 10 }, (_, i) => ({
    ...{ at: to - HOUR_MS + i * 60_000, alarm, what: 'raised' as const, annunciated: true },
  }));
  const shelf = { until: to + HOUR_MS, by: 'J. Field', why: 'filter is being fitted' };
  const facts = { id: alarm, priority: 'low' as const, respondMs: respondMs[alarm] ?? null, shelf };
  return reportPerformance(
    { from, to, positions, days: [] },
    { lines, known: { from: to - 2 * HOUR_MS, to }, alarms: [{ ...facts, outOfService: null }] },
  );
}
