/** What is asked about the performance of the alarm system, and where the times to respond come from. */
import type { Plan } from '../core/plan.js';

export interface PerformanceWish {
  /** ms, `from` < `to` */
  readonly from: number;
  readonly to: number;
  /** operator positions that share the alarms */
  readonly positions: number;
  /** IANA zone of the site, for its days */
  readonly timeZone: string;
  /** time to respond by id of the alarm, of those that have one */
  readonly respondMs: Readonly<Record<string, number>>;
}

/** Without a wish of its own the report is about this long, up to now. Source: our choice, a month as the figures mean it. */
export const REPORT_DEFAULT_MS = 30 * 86_400_000;
export const POSITIONS_MOST = 99;

export function respondTimes(plan: Plan): Record<string, number> {
  const alarms: readonly { readonly id: string; readonly timeToRespondMs?: number | null }[] = [
    ...plan.rateAlarms,
    ...plan.conditionAlarms,
    ...plan.deviationAlarms,
  ];
  const known = alarms.flatMap(({ id, timeToRespondMs: ms }) =>
    ms === undefined || ms === null ? [] : [[id, ms] as const],
  );
  return Object.fromEntries(known);
}
