/**
 * The learnt part of minutes: what was counted in bins that have a yardstick, and what the yardstick expects of the same
 * exposure. Sums are taken over the bins in order of their names, so that equal counts give equal figures to the last bit.
 */
import { ALL_BIN } from '../bin-name.js';
import type { Minute } from '../periods.js';
import type { ReturnBlock } from '../return-window.js';
import type { BinSum } from '../rows.js';
import type { SensorState } from '../state.js';
import { PERIOD_MS } from '../words.js';
import { addExpected, yardstickOf, type Baseline, type Expected } from './baseline.js';

/** Counted and expected over the learnt part of some minutes. */
export interface Sample {
  from: number;
  to: number;
  pulses: number;
  ms: number;
  expected: Expected;
}

/** Sums on the way to a sample; exposure by bin, ms. */
class LearntSums {
  pulses = 0;
  ms = 0;
  readonly #exposures = new Map<string, number>();

  constructor(private readonly baseline: Baseline) {}

  add(pulses: number, ms: number, bins: readonly BinSum[]): void {
    let pulsesLeft = pulses;
    let msLeft = ms;
    for (const sum of bins) {
      pulsesLeft -= sum.pulses;
      msLeft -= sum.ms;
      this.#addBin(sum.bin, sum.pulses, sum.ms);
    }
    if (msLeft > 0) this.#addBin(ALL_BIN, pulsesLeft, msLeft);
  }

  #addBin(bin: string, pulses: number, ms: number): void {
    if (yardstickOf(this.baseline, bin) === null) return;
    this.pulses += pulses;
    this.ms += ms;
    this.#exposures.set(bin, (this.#exposures.get(bin) ?? 0) + ms);
  }

  sample(from: number, to: number): Sample {
    const expected: Expected = { pulses: 0, variance: 0, doubt: 0 };
    for (const [bin, ms] of [...this.#exposures].sort(([a], [b]) => (a < b ? -1 : 1)))
      addExpected(expected, yardstickOf(this.baseline, bin)!, ms);
    return { from, to, pulses: this.pulses, ms: this.ms, expected };
  }
}

export function learntOf(baseline: Baseline, { start, pulses, ms, bins }: Minute): Sample {
  const sums = new LearntSums(baseline);
  sums.add(pulses, ms, bins);
  return sums.sample(start, start + PERIOD_MS['1m']);
}

/** The newest minutes that together hold `windowMs` of learnt exposure; null: those kept do not hold that much. */
export function learntTrailing(sensor: SensorState, windowMs: number): Sample | null {
  const { minutes, minutesKept } = sensor;
  const sums = new LearntSums(sensor.watch.baseline);
  const oldest = Math.max(0, minutes.length - minutesKept);
  let i = minutes.length;
  while (i > oldest && sums.ms < windowMs) {
    i -= 1;
    const { pulses, ms, bins } = minutes[i]!;
    sums.add(pulses, ms, bins);
  }
  if (sums.ms < windowMs) return null;
  return sums.sample(minutes[i]!.start, minutes[minutes.length - 1]!.start + PERIOD_MS['1m']);
}

/** Every newest part of the blocks with at least `leastMs` of learnt exposure, the shortest first, and the whole. */
export function* learntParts(
  baseline: Baseline,
  blocks: readonly ReturnBlock[],
  leastMs: number,
  to: number,
): Generator<Sample> {
  const sums = new LearntSums(baseline);
  for (let i = blocks.length - 1; i >= 0; i--) {
    const [start, pulses, ms, , bins = []] = blocks[i]!;
    sums.add(pulses, ms, bins);
    if (sums.ms >= leastMs || i === 0) yield sums.sample(start, to);
  }
}
