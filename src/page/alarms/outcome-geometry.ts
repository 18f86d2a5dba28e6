/** Where the activations of a rehearsal lie on its time axis. Pure. */
import { listTimeTicks } from '../charts/time-axis.js';
import type { Rehearsal } from '../data/bodies.js';

const TICKS_MOST = 8;

export type Outcome = NonNullable<Rehearsal['result']>;
export type OutcomeAlarm = Outcome['alarms'][number];
type Tally = OutcomeAlarm['journal'];

export interface Bar {
  /** shares of the width */
  readonly x: number;
  readonly width: number;
  /** it stands at the end of the time rehearsed */
  readonly isOpen: boolean;
}

/** Null tally: there is nothing to draw, which is not "never raised". */
export function placeActivations(tally: Tally | null, from: number, to: number): Bar[] | null {
  if (tally === null) return null;
  return tally.activations.flatMap((each) => {
    const begin = Math.max(from, Date.parse(each.from));
    const end = Math.min(to, each.to === null ? to : Date.parse(each.to));
    return end < begin
      ? []
      : [{ x: (begin - from) / (to - from), width: (end - begin) / (to - from), isOpen: each.to === null }];
  });
}

/** What changed or would have been raised otherwise comes first; what was never raised anywhere is left out. */
export function orderOutcome(alarms: readonly OutcomeAlarm[]): OutcomeAlarm[] {
  const raised = ({ candidate, running, journal }: OutcomeAlarm): number =>
    [candidate, running, journal].reduce(
      (sum, tally) => sum + (tally?.raised ?? 0) + (tally?.stands_at_start === true ? 1 : 0),
      0,
    );
  return alarms
    .filter((alarm) => raised(alarm) > 0 || alarm.change !== null)
    .sort((a, b) => Number(b.differs) - Number(a.differs) || raised(b) - raised(a) || (a.id < b.id ? -1 : 1));
}

export interface PlacedTick {
  readonly at: number;
  /** one or two lines, on the clock of the site */
  readonly lines: readonly string[];
  /** share of the width */
  readonly x: number;
}

/** Eight marks or so, at whole hours and days of the site's calendar. `zone`: IANA. */
export function placeTicks(from: number, to: number, zone: string): PlacedTick[] {
  return listTimeTicks(from, to, zone, TICKS_MOST).map(({ at, label }) => ({
    ...{ at, lines: label.split('\n'), x: (at - from) / (to - from) },
  }));
}
