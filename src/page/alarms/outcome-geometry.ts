/** Where the activations of a rehearsal lie on its time axis. Pure. */
import type { Rehearsal } from '../data/bodies.js';

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

/** Whole steps of time for an axis: at most eight marks. */
export function placeMarks(from: number, to: number): number[] {
  const steps = [
    600_000, 1_800_000, 3_600_000, 10_800_000, 21_600_000, 43_200_000, 86_400_000, 172_800_000, 604_800_000,
  ];
  const step = steps.find((each) => (to - from) / each <= 8) ?? 604_800_000;
  const first = Math.ceil(from / step) * step;
  return Array.from(
    { length: Math.max(0, Math.floor((to - first) / step) + 1) },
    (_, place) => first + place * step,
  );
}
