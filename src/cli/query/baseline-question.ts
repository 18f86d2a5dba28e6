/** The first question: a sensor now against its own baseline. */
import { YARDSTICK_NEEDS, type BaselineBin, type BaselineTold } from '../../advice/baseline.js';
import { answerComparison } from '../../advice/comparison.js';
import { dayOf } from '../../advice/day.js';
import { nameSensor } from '../../advice/fleet.js';
import type { QuestionAnswer } from '../../advice/question.js';
import { joinSides, type Side } from '../../advice/side.js';
import { readReach } from '../../store/read-sides.js';
import type { ReadStore } from '../../store/reader.js';
import { baselineOf } from './baselines.js';
import { shrinkToHours, sideOf, type Span } from './sides.js';

const NOW_MS = 7 * 86_400_000;

/** `from`, `to` null: the newest week, as far as it lies behind the learning period. */
export function answerBaseline(
  reader: ReadStore,
  sensor: string,
  from: number | null,
  to: number | null,
): QuestionAnswer {
  const told = baselineOf(reader, sensor);
  const learnt = told.bins.filter(({ state }) => state === 'learnt');
  const base = { kind: 'baseline' as const, sensor, sisters: null, action: null };
  if (learnt.length === 0)
    return { ...base, comparison: null, missing: missingOf(told), sentence: told.sentence };
  const learntTo = Math.max(...learnt.map((bin) => bin.to));
  const newest = readReach(reader, [sensor])?.to ?? learntTo;
  const span = shrinkToHours({
    from: from ?? Math.max((to ?? newest) - NOW_MS, learntTo),
    to: to ?? newest,
  });
  const word = from === null && to === null ? 'now' : 'in that time';
  const now = widenByDays(named(sideOf(reader, sensor, span, true), word), learnt);
  if (now.bins.length === 0) {
    const missing = `nothing has run since the yardstick was learnt on ${dayOf(learntTo)}`;
    return {
      ...base,
      comparison: null,
      missing,
      sentence: `No answer yet for ${nameSensor(sensor)}: ${missing}.`,
    };
  }
  const then = joinSides(
    'its own baseline',
    learnt.map((bin) => widenByDays(sideOfBin(reader, sensor, bin), [bin])),
  );
  const comparison = answerComparison(now, then, noteOverlap(span, learntTo));
  return { ...base, comparison, missing: '', sentence: comparison.sentence };
}

function missingOf({ bins }: BaselineTold): string {
  return bins.length === 0 ? YARDSTICK_NEEDS : 'no bin has a yardstick yet';
}

function named(side: Side, suffix: string): Side {
  return { ...side, name: `${side.name} ${suffix}` };
}

/** The learning period of one bin, from the same hours as everything else, so that its days add up to its sums. */
function sideOfBin(reader: ReadStore, sensor: string, { bin, from, to }: BaselineBin): Side {
  const side = sideOf(reader, sensor, shrinkToHours({ from, to }), true);
  return {
    ...side,
    bins: side.bins.filter((each) => each.bin === bin),
    days: side.days.filter((each) => each.bin === bin),
  };
}

/**
 * Days differ by more than their hours show, and less than a week of days cannot tell by how much: what the learning period
 * knows of it is the least that either side is given. With a week of days on both sides the limits come from days anyway.
 */
function widenByDays(side: Side, learnt: readonly BaselineBin[]): Side {
  const bins = side.bins.map((each) => {
    const known = learnt.find(({ bin }) => bin === each.bin)?.dayPhi ?? 1;
    return { ...each, phi: Math.max(each.phi, known) };
  });
  return { ...side, bins };
}

function noteOverlap({ from }: Span, learntTo: number): string[] {
  return from < learntTo
    ? [
        `The period overlaps the learning period, which ends on ${dayOf(learntTo)}: part of it is compared with itself.`,
      ]
    : [];
}
