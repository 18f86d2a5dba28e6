/** Where the parts of an alarm's evidence lie on one scale of rates. Pure. */
import type { Evidence } from '../data/bodies.js';

export interface Scale {
  /** the rate at the right end, per minute */
  readonly most: number;
  readonly ticks: readonly number[];
  /** share of the width for a rate, 0 to 1 */
  place(rate: number): number;
}

/** 1, 2 or 5 times a power of ten, so that at most six ticks lie below `most`. */
export function stepFor(most: number): number {
  const raw = most / 5;
  const power = 10 ** Math.floor(Math.log10(raw));
  return [1, 2, 5, 10].map((factor) => factor * power).find((step) => step >= raw) ?? 10 * power;
}

/** From zero to a little beyond whatever is shown. Null: there is nothing to show. */
export function makeScale(evidence: Evidence): Scale | null {
  const { rate_per_min: rate, upper_per_min: upper, setpoint_per_min: setpoint } = evidence;
  const shown = [rate, upper, setpoint].filter((value): value is number => value !== null);
  const highest = Math.max(0, ...shown);
  if (shown.length === 0 || highest === 0) return null;
  const step = stepFor(highest * 1.1);
  const most = Math.ceil((highest * 1.05) / step) * step;
  const ticks = Array.from({ length: Math.round(most / step) + 1 }, (_, place) => place * step);
  return { most, ticks, place: (value) => Math.min(1, Math.max(0, value / most)) };
}

export interface StripPart {
  /** shares of the width */
  readonly x: number;
  readonly width: number;
  readonly state: Evidence['run_states'][number]['state'];
}

/** The run-state strip over the time that the evidence is of. */
export function placeRunStates({ from, to, run_states: states }: Evidence): StripPart[] {
  const [begin, end] = [Date.parse(from), Date.parse(to)];
  if (end <= begin) return [];
  return states.flatMap((each) => {
    const left = Math.max(begin, Date.parse(each.from));
    const right = Math.min(end, Date.parse(each.to));
    return right <= left
      ? []
      : [{ x: (left - begin) / (end - begin), width: (right - left) / (end - begin), state: each.state }];
  });
}
