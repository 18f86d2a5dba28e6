/** Alarms that nobody acknowledged within the time that there is to respond to them. */
import type { AlarmHistory } from './alarm-histories.js';
import { firstFrom, type Span } from './alarm-load.js';

export interface LateAlarm {
  readonly alarm: string;
  /** announced, ms */
  readonly at: number;
  /** null: not by the end of the time looked at */
  readonly acknowledgedAt: number | null;
  readonly respondMs: number;
}

/**
 * Announcements in the span that were acknowledged later than their time to respond, or not at all although that time was
 * over; in order of time. `judged`: announcements of which it can be said whether they were late; an alarm without a time to
 * respond is not among them, nor one whose time still runs.
 */
export function findLate(
  histories: readonly AlarmHistory[],
  span: Span,
  facts: readonly { readonly id: string; readonly respondMs: number | null }[],
): { late: LateAlarm[]; judged: number } {
  const respondOf = new Map(facts.map(({ id, respondMs }) => [id, respondMs]));
  const late: LateAlarm[] = [];
  let judged = 0;
  for (const { alarm, annunciations, acknowledgements } of histories) {
    const respondMs = respondOf.get(alarm) ?? null;
    if (respondMs === null) continue;
    for (let i = firstFrom(annunciations, span.from); i < annunciations.length; i++) {
      const at = annunciations[i]!;
      const found = acknowledgements[firstFrom(acknowledgements, at)] ?? null;
      if (found === null && at + respondMs >= span.to) continue;
      judged += 1;
      if (found === null || found - at > respondMs)
        late.push({ alarm, at, acknowledgedAt: found, respondMs });
    }
  }
  late.sort((a, b) => a.at - b.at || (a.alarm < b.alarm ? -1 : 1));
  return { late, judged };
}
