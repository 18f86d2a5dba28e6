/** A rate or a ratio with its limits, in as many figures as the limits support: two of their half width. Pure. */
import { formatCount, formatRate } from '../times.js';

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

/** Decimals; below 0: of tens, hundreds and so on. Our choice: a second figure of the half width, for it is itself an estimate. */
function decimalsOf(lower: number, upper: number): number {
  const half = (upper - lower) / 2;
  return Math.min(9, 1 - Math.floor(Math.log10(Number(half.toPrecision(2))) + 1e-12));
}

/** What is not zero is never written as zero: it keeps two figures of its own. */
function write(value: number, decimals: number): string {
  const step = 10 ** -decimals;
  const rounded = Math.round(value / step) * step;
  if (value === 0) return '0';
  if (rounded === 0) return formatRate(Number(value.toPrecision(2)));
  if (decimals <= 0) return formatCount(rounded);
  const [whole = '', part = ''] = rounded.toFixed(decimals).split('.');
  return `${formatCount(Number(whole))}.${part}`;
}

export function writeLimited({ mean, lower, upper }: Limited): LimitedWords {
  if (upper === null) return { mean: formatRate(mean), limits: `${formatRate(lower)} to no bound` };
  if (!(upper > lower))
    return { mean: formatRate(mean), limits: `${formatRate(lower)} to ${formatRate(upper)}` };
  const decimals = decimalsOf(lower, upper);
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
