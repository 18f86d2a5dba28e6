/** The second question: one sensor against the middle of its duty group, and whether it is the odd one out. */
import { answerComparison } from '../../advice/comparison.js';
import { findSisters, nameSensor, type Fleet } from '../../advice/fleet.js';
import type { QuestionAnswer, SisterScore } from '../../advice/question.js';
import { joinSides, unlikeReason, type Side } from '../../advice/side.js';
import { placeSisters, SHARED_MS_MIN } from '../../advice/sisters.js';
import { scorePeers, type Peer } from '../../core/deviation/peers.js';
import type { ReadStore } from '../../store/reader.js';
import { addDays, sideOf, type Span } from './sides.js';

/** Groups below this get no score: see core/deviation/peers.ts. */
const SCORED_MOTORS_MIN = 4;

/** A side as the alarm on peers looks at it: like bins only. */
export function toPeer(key: string, { bins }: Side): Peer {
  return {
    key,
    cells: bins
      .filter(({ bin }) => unlikeReason(bin) === null)
      .map(({ bin, pulses, ms, phi }) => ({ bin, pulses, ms, dispersion: phi })),
  };
}

/** Asks the store. `sensor` must be of the fleet. */
export function answerSisters(reader: ReadStore, fleet: Fleet, sensor: string, span: Span): QuestionAnswer {
  const keys = findSisters(fleet, sensor);
  const dutyGroup = fleet.find(({ motor }) => motor === sensor.split('/')[0])?.dutyGroup ?? '';
  const own = sideOf(reader, sensor, span, true);
  const sides = keys.map((key) => ({ key, side: sideOf(reader, key, span, false) }));
  const score = scoreOne(sensor, [{ key: sensor, side: own }, ...sides]);
  const { placed, middle, leftOut } = placeSisters(
    own,
    sides.map(({ side }) => side),
  );
  const told = { dutyGroup, placed, leftOut, score };
  const base = { kind: 'sisters' as const, sensor, sisters: told, action: null };
  if (middle === null) {
    const missing = missingSisters(keys.length, placed.length, dutyGroup);
    return {
      ...base,
      comparison: null,
      missing,
      sentence: `No answer yet for ${nameSensor(sensor)}: ${missing}.`,
    };
  }
  const withDays = sides
    .filter(({ side }) => middle.includes(side))
    .map(({ key, side }) => addDays(reader, side, key, span));
  const comparison = answerComparison(
    own,
    joinSides('the median of its group', withDays),
    noteScore(score, placed.length + 1),
  );
  return { ...base, comparison, missing: '', sentence: comparison.sentence };
}

function scoreOne(sensor: string, group: readonly { key: string; side: Side }[]): SisterScore | null {
  const scores = scorePeers([group.map(({ key, side }) => toPeer(key, side))]);
  const own = scores.find(({ key }) => key === sensor);
  if (own === undefined) return null;
  return { motors: own.motors, p: own.p, isOdd: own.odd, isTorn: own.torn };
}

function noteScore(score: SisterScore | null, motors: number): string[] {
  if (score === null) {
    return motors < SCORED_MOTORS_MIN
      ? [`A group of ${motors} is too small to call one of them odd: with so few, nobody can say which is.`]
      : [];
  }
  if (score.isTorn) {
    return [
      `The group falls into two halves that lie far apart: which of the ${score.motors} motors are odd cannot be told from ` +
        'the counts alone.',
    ];
  }
  if (score.isOdd) {
    return [
      `It is the odd one out of ${score.motors} on this look (p ${score.p.toExponential(1)}); the alarm asks for two looks ` +
        'a day apart and bounds false discoveries over the plant.',
    ];
  }
  return [
    `It is not called odd: that takes p below 0.0005 and more than twice the group (p ${score.p.toPrecision(2)}).`,
  ];
}

function missingSisters(configured: number, comparable: number, dutyGroup: string): string {
  if (configured === 0) return `no other motor of duty group ${dutyGroup} has a sensor at this position`;
  const hours = SHARED_MS_MIN / 3_600_000;
  return `two sisters with ${hours} h of shared conditions are needed, and ${comparable} of ${configured} ${comparable === 1 ? 'has' : 'have'} them`;
}
