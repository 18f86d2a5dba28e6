/**
 * From evidence to an ordered list of hypotheses. Order: what speaks for a mechanism minus what speaks against it, weights as
 * in the rules; among equals the one with more for it, then the order of the trade (`MECHANISMS`). Our choice: a sum of stated
 * weights can be checked by hand, and claims no probability.
 */
import { CAUTIONS, STANDING, type Caution } from './cautions.js';
import type { ActionEvidence, MotorEvidence } from './evidence.js';
import { effectOf, writeRatio } from './judgement.js';
import { MECHANISMS, type Mechanism, type MechanismId, type Sourced } from './mechanism.js';
import type { Observation } from './observation.js';
import {
  observeAfterBonding,
  observeAfterEarthing,
  observeAfterFilter,
  observeAfterInsulation,
  observeAfterSensorWork,
  observeEarthing,
  observeErosion,
  observeInsulation,
  observeLubricant,
  observeSize,
} from './observe-records.js';
import {
  AXES,
  observeAxis,
  observeBypass,
  observeCommonBursts,
  observeDevice,
  observeEnds,
  observeModulation,
  observeNeighbour,
  observeSisters,
} from './observe-sensors.js';
import { REMEDIES, type Remedy } from './remedies.js';
import { RULES } from './rules.js';

/** One reason: what was observed and what follows from it. */
export interface Ground extends Sourced {
  readonly weight: 1 | 2;
  readonly observed: string;
}

export interface RemedyAdvice extends Remedy {
  /** what the records say about it, in words; null: no such action is on record */
  readonly tried: string | null;
}

export interface Hypothesis {
  readonly mechanism: MechanismId;
  readonly name: string;
  readonly about: Sourced;
  /** the weight of evidence, in words */
  readonly weight: string;
  readonly speaksFor: readonly Ground[];
  readonly speaksAgainst: readonly Ground[];
  /** what would tell and is not known */
  readonly notKnown: readonly string[];
  readonly confirm: readonly Sourced[];
  readonly refute: readonly Sourced[];
  /** in the usual order */
  readonly remedies: readonly RemedyAdvice[];
}

export interface Advice {
  readonly motor: string;
  /** what this list is, and what it is not */
  readonly standing: string;
  readonly hypotheses: readonly Hypothesis[];
  readonly observations: readonly Observation[];
  readonly cautions: readonly Caution[];
}

/** Everything that can be observed from the evidence, known or not. */
export function observeAll(motor: MotorEvidence): Observation[] {
  return [
    observeModulation(motor),
    observeBypass(motor),
    observeEnds(motor),
    observeSisters(motor),
    ...AXES.map((axis) => observeAxis(motor, axis)),
    observeNeighbour(motor),
    observeCommonBursts(motor),
    observeDevice(motor),
    observeSize(motor),
    observeEarthing(motor),
    observeInsulation(motor),
    observeAfterEarthing(motor),
    observeAfterInsulation(motor),
    observeAfterFilter(motor),
    observeAfterBonding(motor),
    observeAfterSensorWork(motor),
    observeErosion(motor),
    observeLubricant(motor),
  ];
}

export function adviseOn(motor: MotorEvidence): Advice {
  const observations = observeAll(motor);
  const weighed = MECHANISMS.map((mechanism) => weigh(mechanism, observations, motor.actions));
  const ordered = weighed
    .map((each, place) => ({ each, place, net: sum(each.speaksFor) - sum(each.speaksAgainst) }))
    .sort((a, b) => b.net - a.net || sum(b.each.speaksFor) - sum(a.each.speaksFor) || a.place - b.place)
    .map(({ each }) => each);
  return { motor: motor.motor, standing: STANDING, hypotheses: ordered, observations, cautions: CAUTIONS };
}

function weigh(
  mechanism: Mechanism,
  observations: readonly Observation[],
  actions: readonly ActionEvidence[],
): Hypothesis {
  const own = RULES.filter((rule) => rule.mechanism === mechanism.id);
  const grounds = (speaks: 'for' | 'against'): Ground[] =>
    observations.flatMap((observation) =>
      own
        .filter(
          (rule) => rule.on === observation.id && rule.is === observation.value && rule.speaks === speaks,
        )
        .map(({ weight, because, source }) => ({
          weight,
          observed: observation.text,
          text: because,
          source,
        })),
    );
  const speaksFor = grounds('for');
  const speaksAgainst = grounds('against');
  return {
    mechanism: mechanism.id,
    name: mechanism.name,
    about: mechanism.about,
    weight: wordWeight(sum(speaksFor), sum(speaksAgainst)),
    speaksFor,
    speaksAgainst,
    notKnown: observations
      .filter(({ id, value }) => value === null && own.some((rule) => rule.on === id))
      .map(({ text }) => text),
    confirm: mechanism.confirm,
    refute: mechanism.refute,
    remedies: REMEDIES[mechanism.id].map((remedy) => ({ ...remedy, tried: wordTried(remedy, actions) })),
  };
}

function sum(grounds: readonly Ground[]): number {
  return grounds.reduce((total, { weight }) => total + weight, 0);
}

function wordWeight(speaking: number, against: number): string {
  if (speaking === 0 && against === 0) return 'not known: nothing observed speaks for or against it';
  if (speaking === 0) return 'speaks against it';
  if (against === 0)
    return speaking >= 4 ? 'much speaks for it' : speaking >= 2 ? 'speaks for it' : 'a little speaks for it';
  if (speaking >= against + 3) return 'more speaks for it than against';
  if (against >= speaking + 3) return 'more speaks against it than for it';
  return 'evidence on both sides';
}

function wordTried({ kinds, bearing }: Remedy, actions: readonly ActionEvidence[]): string | null {
  const done = actions.filter(
    (action) => kinds.includes(action.kind) && (bearing === null || action.bearing === bearing),
  );
  const last = done.at(-1);
  if (last === undefined) return null;
  if (last.effect === null) return 'done; not enough exposure yet to say what it changed';
  const effect = effectOf(last.effect);
  const word = { fell: 'the counts fell', same: 'the counts stayed', rose: 'the counts rose' };
  const said = effect === null ? 'what it changed is not clear' : word[effect];
  return `done; ${said}: ${writeRatio(last.effect)} times as often as before`;
}
