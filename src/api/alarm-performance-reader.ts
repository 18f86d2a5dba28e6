/** What is asked about the performance of the alarm system, and where the times to respond come from. */
import { findAdvice } from '../core/alarm-advice.js';
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

/** Time to respond of each of these alarms that has one, ms, as the configuration says it now. */
export function respondTimes(plan: Plan, alarms: readonly { readonly id: string }[]): Record<string, number> {
  const known = alarms.flatMap(({ id }) => {
    const ms = findAdvice(plan, id).timeToRespondMs;
    return ms === null ? [] : [[id, ms] as const];
  });
  return Object.fromEntries(known);
}
