/** How many alarms were put before an operator position in a time: by 10 minutes, by the hour, by the day. */

/** `[from, to)`, ms. */
export interface Span {
  readonly from: number;
  readonly to: number;
}

/** A day of the site's calendar; 23 or 25 hours long when the clocks change. */
export interface CalendarDay extends Span {
  /** such as 2026-03-29 */
  readonly date: string;
}

export interface DayLoad extends CalendarDay {
  readonly alarms: number;
  /** all of it is covered; only such days count in means and maxima */
  readonly isWhole: boolean;
}

export interface PeriodLoad {
  /** over the whole time, not only over whole periods */
  readonly mean: number;
  /** of the fullest period, the last broken one too */
  readonly most: number;
  /** of the whole periods, those with more than the limit; null: there is no whole period */
  readonly shareAbove: number | null;
}

/**
 * Periods of `lengthMs` from the beginning of the span on; a last one that is shorter counts in the maximum only. All are
 * per operator position, taking the positions as equally loaded. `times`: ascending, within the span; the span not empty.
 */
export function loadByPeriod(
  times: readonly number[],
  span: Span,
  lengthMs: number,
  positions: number,
  limit: number,
): PeriodLoad {
  const whole = Math.floor((span.to - span.from) / lengthMs);
  const counts = new Map<number, number>();
  for (const time of times) {
    const period = Math.floor((time - span.from) / lengthMs);
    counts.set(period, (counts.get(period) ?? 0) + 1);
  }
  let most = 0;
  let above = 0;
  for (const [period, count] of counts) {
    most = Math.max(most, count);
    if (period < whole && count > limit * positions) above += 1;
  }
  return {
    mean: (times.length * lengthMs) / (span.to - span.from) / positions,
    most: most / positions,
    shareAbove: whole === 0 ? null : above / whole,
  };
}

/** The part of each day that is covered, with what was announced in it. `times`: ascending. Days not covered are left out. */
export function loadByDay(times: readonly number[], covered: Span, days: readonly CalendarDay[]): DayLoad[] {
  return days.flatMap((day) => {
    const from = Math.max(day.from, covered.from);
    const to = Math.min(day.to, covered.to);
    if (from >= to) return [];
    const alarms = firstFrom(times, to) - firstFrom(times, from);
    return [{ ...day, alarms, isWhole: from === day.from && to === day.to }];
  });
}

/** How many of the ascending times lie before `at`. */
export function firstFrom(times: readonly number[], at: number): number {
  let low = 0;
  let high = times.length;
  while (low < high) {
    const middle = (low + high) >>> 1;
    if (times[middle]! < at) low = middle + 1;
    else high = middle;
  }
  return low;
}
