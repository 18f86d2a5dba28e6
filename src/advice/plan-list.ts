/**
 * The plan list: which motors go on the list for the next outage, by evidence, each with its reason in one line.
 *
 * Order, our choice, so that a reader can check it by hand:
 *  1. by the strongest ground: signs of electrical erosion or spent lubricant seen at an inspection and not followed by a new
 *     bearing (damage seen outranks every count); the odd one out of its group; in the louder half of a group that falls into
 *     two, where nobody can say which half is odd; risen over its own baseline, false discoveries bounded over the list; raised
 *     after a remedy that did not help;
 *     nothing of these;
 *  2. within a ground by how far the lower limits of the ratios lie above 1 (the larger of sisters and own baseline);
 *  3. then by dose, the running pulses since the bearing was fitted, and by name.
 * Dose alone never lifts a motor over one with a ground: no published figure says how much dose is too much.
 */
import type { CandidateSensor } from './candidate-sensor.js';
import type { ActionEvidence, FindingEvidence } from './evidence.js';
import { dayOf } from './day.js';
import { namePosition } from './fleet.js';
import { effectOf, writeFactor, writeRatio } from './judgement.js';
import { showsErosion, showsSpentLubricant } from './observe-records.js';
import { findRisen } from './risen.js';

/** What stands on top of every plan list. */
export const NO_REMAINING_LIFE =
  'No remaining-life figure is given, because none is published: how many discharges a bearing stands depends on their ' +
  'energy, the film and the grease, and nobody has measured it for yours. The order is by evidence, and no more than that.';

export interface Candidate {
  readonly motor: string;
  readonly sensors: readonly CandidateSensor[];
  /** in order of time, none withdrawn; remedies and others */
  readonly actions: readonly ActionEvidence[];
  /** in order of time, none withdrawn */
  readonly findings: readonly FindingEvidence[];
  /** it is in the louder half of a group that falls into two: nobody can say which half is odd */
  readonly isUndecided: boolean;
}

/** In order of rank. */
export const GROUNDS = [
  'seen-damage',
  'odd-one-out',
  'one-of-two-halves',
  'risen',
  'remedy-without-effect',
  'no-ground',
] as const;
export type PlanGround = (typeof GROUNDS)[number];

export interface PlanLine {
  readonly rank: number;
  readonly motor: string;
  readonly ground: PlanGround;
  /** one line, why it stands where it stands */
  readonly reason: string;
  /** most running pulses of its bearings since they were fitted */
  readonly dosePulses: number;
}

export interface PlanList {
  readonly standing: string;
  readonly lines: readonly PlanLine[];
}

/** Orders the candidates as the head of this file says. */
export function rankCandidates(candidates: readonly Candidate[]): PlanList {
  const risen = findRisen(candidates.flatMap(({ sensors }) => sensors));
  const weighed = candidates.map((candidate) => ({
    candidate,
    ground: groundOf(candidate, risen),
    excess: Math.max(1, ...candidate.sensors.map(excessOf)),
    dosePulses: Math.max(0, ...candidate.sensors.map((sensor) => sensor.dosePulses)),
  }));
  weighed.sort(
    (a, b) =>
      GROUNDS.indexOf(a.ground) - GROUNDS.indexOf(b.ground) ||
      b.excess - a.excess ||
      b.dosePulses - a.dosePulses ||
      (a.candidate.motor < b.candidate.motor ? -1 : 1),
  );
  const lines = weighed.map(({ candidate, ground, dosePulses }, place) => ({
    rank: place + 1,
    motor: candidate.motor,
    ground,
    reason: tellReason(candidate, ground, risen),
    dosePulses,
  }));
  return { standing: NO_REMAINING_LIFE, lines };
}

function excessOf({ sisters, baseline }: CandidateSensor): number {
  return Math.max(sisters?.lower ?? 1, baseline?.lower ?? 1);
}

function groundOf(candidate: Candidate, risen: ReadonlySet<CandidateSensor>): PlanGround {
  if (openDamage(candidate).length > 0) return 'seen-damage';
  if (candidate.sensors.some(({ isOdd }) => isOdd)) return 'odd-one-out';
  if (candidate.isUndecided) return 'one-of-two-halves';
  if (candidate.sensors.some((sensor) => risen.has(sensor))) return 'risen';
  return isWithoutEffect(candidate) ? 'remedy-without-effect' : 'no-ground';
}

/** Damage that was seen at an end whose bearing has not been replaced since, or grease that has not been renewed. */
function openDamage({ findings, actions }: Candidate): readonly FindingEvidence[] {
  const isMended = (finding: FindingEvidence, kinds: readonly string[]): boolean =>
    actions.some(
      ({ kind, end, at }) =>
        at >= finding.at &&
        kinds.includes(kind) &&
        (end === null || end === finding.end || (end === 'both' && ['de', 'nde'].includes(finding.end))),
    );
  return findings.filter(
    (finding) =>
      !finding.isRemoved &&
      ((showsErosion(finding) && !isMended(finding, ['bearing-replaced'])) ||
        (showsSpentLubricant(finding) && !isMended(finding, ['bearing-replaced', 'regreased']))),
  );
}

/** The newest remedy has an answer, and it is not that the counts fell, while the counts stand above the sisters. */
function isWithoutEffect({ actions, sensors }: Candidate): boolean {
  const last = actions.filter(({ effect }) => effect !== null).at(-1);
  if (last === undefined || sensors.every(({ sisters }) => sisters === null || sisters.ratio <= 1))
    return false;
  const effect = effectOf(last.effect!);
  return effect === 'same' || effect === 'rose';
}

function tellReason(candidate: Candidate, ground: PlanGround, risen: ReadonlySet<CandidateSensor>): string {
  const parts = [
    ...openDamage(candidate).map(tellDamage),
    ...candidate.sensors.flatMap((sensor) => tellSensor(sensor, risen.has(sensor))),
    ...(candidate.isUndecided ? ['its group falls into two halves, and which is odd cannot be told'] : []),
    ...tellTried(candidate.actions),
    tellDose(candidate.sensors),
  ].filter((part) => part !== '');
  return ground === 'no-ground' ? ['nothing stands out', ...parts].join('; ') : parts.join('; ');
}

function tellDamage({ end, signs, modes, lubricant, at }: FindingEvidence): string {
  const grease = lubricant.map((word) => `${word} lubricant`);
  const seen = [...modes, ...signs, ...grease].filter((word) => word !== 'none').join(', ');
  return `${seen} found at ${namePosition(end)} on ${dayOf(at)}`;
}

function tellSensor({ position, sisters, isOdd, baseline }: CandidateSensor, isRisen: boolean): string[] {
  const parts: string[] = [];
  if (sisters !== null && (isOdd || sisters.lower > 1))
    parts.push(`${namePosition(position)} ${writeRatio(sisters)} times the median of its group`);
  if (baseline !== null && baseline.lower > 1)
    parts.push(
      `${namePosition(position)} ${writeRatio(baseline)} times its own baseline` +
        (isRisen ? '' : ', as chance alone brings among so many'),
    );
  return parts;
}

function tellTried(actions: readonly ActionEvidence[]): string[] {
  const last = actions.filter(({ effect }) => effect !== null).at(-1);
  if (last === undefined) return [];
  const effect = effectOf(last.effect!);
  const what = `${last.kind.replaceAll('-', ' ')} of ${dayOf(last.at)}`;
  if (effect === 'fell') return [`${what} lowered it to ${writeRatio(last.effect!)}`];
  return [effect === null ? `${what}: effect not clear yet` : `${what} did not lower it`];
}

/** Of the bearing with most pulses. */
function tellDose(sensors: readonly CandidateSensor[]): string {
  const most = sensors.reduce<CandidateSensor | null>(
    (best, each) => (best === null || each.dosePulses > best.dosePulses ? each : best),
    null,
  );
  if (most === null || most.since === null) return '';
  const since = most.isSinceFitted ? 'its bearing was fitted' : 'the data begins';
  return `${writeCount(most.dosePulses)} running pulses at ${namePosition(most.position)} since ${since} on ${dayOf(most.since)}`;
}

/** 3,141,593 -> "3.1 million"; below a million all digits. */
export function writeCount(count: number): string {
  if (count >= 1e9) return `${writeFactor(count / 1e9)} billion`;
  if (count >= 1e6) return `${writeFactor(count / 1e6)} million`;
  return String(Math.round(count)).replace(/\B(?=(\d{3})+$)/g, ',');
}
