/**
 * What was sent so lately that the host may have died before it came: data travel with QoS 0, and a broker notices a dead host
 * only when its keep-alive has run out. It is sent again, as historical, when the host is back.
 */
import type { Report } from './metric-groups.js';

const REPORTS_MOST = 50_000;

export class Doubt {
  private recent: { readonly sentAt: number; readonly reports: readonly Report[] }[] = [];
  private count = 0;
  private pending: Report[] = [];

  /** `forMs`: how long a broker may take to notice that the host is dead; times are those of a clock that nobody sets */
  constructor(private readonly forMs: number) {}

  add(reports: readonly Report[], steadyAt: number): void {
    this.recent.push({ sentAt: steadyAt, reports });
    this.count += reports.length;
    while (
      this.recent.length > 0 &&
      (this.count > REPORTS_MOST || this.recent[0]!.sentAt < steadyAt - this.forMs)
    )
      this.count -= this.recent.shift()!.reports.length;
  }

  /** The host is lost: what was sent within the time is to be sent again. */
  arise(steadyAt: number): void {
    const doubtful = this.recent.filter(({ sentAt }) => sentAt >= steadyAt - this.forMs);
    this.pending.push(...doubtful.flatMap(({ reports }) => reports.map((r) => ({ ...r, isBacklog: true }))));
    this.pending.splice(0, Math.max(0, this.pending.length - REPORTS_MOST));
    this.recent = [];
    this.count = 0;
  }

  /** The oldest, at most so many. `settle` takes them away. */
  peek(most: number): readonly Report[] {
    return this.pending.slice(0, most);
  }

  settle(count: number): void {
    this.pending.splice(0, count);
  }
}
