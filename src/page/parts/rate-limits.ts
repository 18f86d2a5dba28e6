/** A rate or a ratio with its limits, in as many figures as the limits support: two of their half width. Pure. */
import { formatCount, formatRate, RATE_LEAST } from '../times.js';

/** `upper` null: no bound. */
export interface Limited {
  readonly mean: number;
  readonly lower: number;
  readonly upper: number | null;
}

export interface LimitedWords {
  readonly mean: string;
  /** `10.3 to 14.9` */
  readonly limits: string;
}

/** Decimals that show two figures of a value; below 0: of tens, hundreds and so on. */
function decimalsOf(value: number): number {
  return 1 - Math.floor(Math.log10(Number(value.toPrecision(2))) + 1e-12);
}

/** `decimals`: those of the half width. What is small beside it keeps two figures of its own, so that it is never written as zero. */
function write(value: number, decimals: number): string {
  if (value < RATE_LEAST) return formatRate(value);
  const own = Math.max(decimals, decimalsOf(value));
  const step = 10 ** -own;
  if (own <= 0) return formatCount(Math.round(value / step) * step);
  const [whole = '', part = ''] = value.toFixed(own).split('.');
  return `${formatCount(Number(whole))}.${part}`;
}

export function writeLimited({ mean, lower, upper }: Limited): LimitedWords {
  if (upper === null) return { mean: formatRate(mean), limits: `${formatRate(lower)} to no bound` };
  if (!(upper > lower))
    return { mean: formatRate(mean), limits: `${formatRate(lower)} to ${formatRate(upper)}` };
  const decimals = decimalsOf((upper - lower) / 2);
  return {
    mean: write(mean, decimals),
    limits: `${write(lower, decimals)} to ${write(upper, decimals)}`,
  };
}

/** `12.4 (10.3 to 14.9)` */
export function sayLimited(limited: Limited): string {
  const { mean, limits } = writeLimited(limited);
  return `${mean} (${limits})`;
}
