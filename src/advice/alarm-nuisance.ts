/** Alarms that wear an operator out: that chatter, that are over before anybody can act, that stand for days, that come most often. */
import type { AlarmHistory } from './alarm-histories.js';
import { firstFrom, type Span } from './alarm-load.js';

export const CHATTER_TIMES = 3;
export const CHATTER_WINDOW_MS = 60_000;
/** Announced and returned within this: our choice, no figure is published. */
export const FLEETING_MS = 60_000;
export const STALE_MS = 86_400_000;
export const FREQUENT_MOST = 10;

export interface AlarmCount {
  readonly alarm: string;
  /** what is counted of it */
  readonly count: number;
}

export interface StaleAlarm {
  readonly alarm: string;
  /** active since, ms */
  readonly since: number;
}

/** By count, then by name. */
function rank(counts: readonly AlarmCount[]): AlarmCount[] {
  return counts
    .filter(({ count }) => count > 0)
    .sort((a, b) => b.count - a.count || (a.alarm < b.alarm ? -1 : 1));
}

function within(times: readonly number[], { from, to }: Span): number[] {
  return times.slice(firstFrom(times, from), firstFrom(times, to));
}

/** The alarms that were announced most often in the span. */
export function findFrequent(histories: readonly AlarmHistory[], span: Span): AlarmCount[] {
  const counts = histories.map(({ alarm, annunciations }) => ({
    alarm,
    count: within(annunciations, span).length,
  }));
  return rank(counts).slice(0, FREQUENT_MOST);
}

/** Alarms that were announced at least 3 times within less than a minute, with how many of their announcements lay so close. */
export function findChattering(histories: readonly AlarmHistory[], span: Span): AlarmCount[] {
  return rank(
    histories.map(({ alarm, annunciations }) => {
      const times = within(annunciations, span);
      const close = new Set<number>();
      for (let i = CHATTER_TIMES - 1; i < times.length; i++) {
        const first = i - CHATTER_TIMES + 1;
        if (times[i]! - times[first]! < CHATTER_WINDOW_MS) for (let k = first; k <= i; k++) close.add(k);
      }
      return { alarm, count: close.size };
    }),
  );
}

/** Alarms that were announced in the span and returned within a minute, with how often. */
export function findFleeting(histories: readonly AlarmHistory[], span: Span): AlarmCount[] {
  return rank(
    histories.map(({ alarm, annunciations, returns }) => ({
      alarm,
      count: within(annunciations, span).filter((at) => {
        const end = returns[firstFrom(returns, at)];
        return end !== undefined && end < span.to && end - at < FLEETING_MS;
      }).length,
    })),
  );
}

/** A stretch in which an alarm stood that had been active for more than a day. */
interface StaleSpell extends Span {
  readonly alarm: string;
  readonly since: number;
}

function listStale(histories: readonly AlarmHistory[], span: Span): StaleSpell[] {
  return histories.flatMap(({ alarm, spells }) =>
    spells.flatMap(({ from, to, since }) => {
      const cut = {
        from: Math.max(from, since + STALE_MS, span.from),
        to: Math.min(to ?? Infinity, span.to),
      };
      return cut.from < cut.to ? [{ ...cut, alarm, since }] : [];
    }),
  );
}

/** Stale where the span ends, the oldest first; and how many stood at once at most. */
export function findStale(
  histories: readonly AlarmHistory[],
  span: Span,
): { atEnd: StaleAlarm[]; most: number } {
  const spells = listStale(histories, span);
  const atEnd = spells
    .filter(({ to }) => to === span.to)
    .map(({ alarm, since }) => ({ alarm, since }))
    .sort((a, b) => a.since - b.since || (a.alarm < b.alarm ? -1 : 1));
  const steps = spells
    .flatMap(({ from, to }) => [
      { at: from, step: 1 },
      { at: to, step: -1 },
    ])
    .sort((a, b) => a.at - b.at || a.step - b.step);
  let now = 0;
  let most = 0;
  for (const { step } of steps) {
    now += step;
    most = Math.max(most, now);
  }
  return { atEnd, most };
}
