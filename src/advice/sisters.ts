/**
 * The yardstick of the second question: the middle of a motor's sisters. Each sister is placed by how often the motor
 * discharges compared with her, under like conditions; the one in the middle, or the two in the middle together, stand for
 * the group. Why not all sisters summed: one odd sister would carry the sum.
 */
import { compare } from '../stats/compare.js';
import { unlikeReason, type Side } from './side.js';

/** Shared running below which a sister is no sister: our choice, as for the odd one out. */
export const SHARED_MS_MIN = 4 * 3_600_000;
/** Motors that a group needs, itself included: with two, neither is odd. Our choice: as the alarm on peers has it. */
export const MOTORS_MIN = 3;

export interface SisterPlaced {
  readonly name: string;
  /** motor / sister; Infinity: the sister did not discharge */
  readonly ratio: number;
  readonly sharedMs: number;
}

export interface Sisterhood {
  /** those that compare, from the loudest to the quietest */
  readonly placed: readonly SisterPlaced[];
  /** the one in the middle, or the two; null: too few sisters */
  readonly middle: readonly Side[] | null;
  /** sisters without enough shared conditions */
  readonly leftOut: readonly { readonly name: string; readonly sharedMs: number }[];
}

export function placeSisters(own: Side, sisters: readonly Side[]): Sisterhood {
  const all = sisters.map((side) => ({ side, ...placeOne(own, side) }));
  const placed = all
    .filter(({ sharedMs }) => sharedMs >= SHARED_MS_MIN)
    .sort((a, b) => a.ratio - b.ratio || (a.side.name < b.side.name ? -1 : 1));
  const n = placed.length;
  const middle = placed.slice(Math.ceil(n / 2) - 1, Math.floor(n / 2) + 1);
  return {
    placed: placed.map(({ side, ratio, sharedMs }) => ({ name: side.name, ratio, sharedMs })),
    middle: n + 1 < MOTORS_MIN ? null : middle.map(({ side }) => side),
    leftOut: all
      .filter(({ sharedMs }) => sharedMs < SHARED_MS_MIN)
      .map(({ side, sharedMs }) => ({ name: side.name, sharedMs })),
  };
}

function placeOne(own: Side, sister: Side): { ratio: number; sharedMs: number } {
  const found = compare(toBins(own), toBins(sister), { confidence: 0.95, nullRatio: 1 });
  // no pulses on either side: alike
  const ratio = found.ratio ?? (found.pulses.a > 0 ? Infinity : 1);
  return { ratio, sharedMs: found.exposureMs.shared };
}

function toBins(side: Side) {
  return {
    bins: side.bins
      .filter(({ bin }) => unlikeReason(bin) === null)
      .map(({ bin, pulses, ms, phi }) => ({ bin, pulses, exposureMs: ms, phi })),
    days: null,
  };
}
