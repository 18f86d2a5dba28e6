/**
 * The last day of one sensor in a small picture: bars for the rate while it ran, a thin line while it stood, dots where the
 * run state was unknown, nothing but slanted lines where the sensor was silent. A rate of zero is a line, not a gap.
 */
import { formatClock, formatRate } from '../times.js';
import type { DayStrip } from './day-strips.js';
import './strips.css';

const WIDTH = 288;
const HEIGHT = 32;
const BASE = HEIGHT - 5;
/** Rates differ by powers of ten: the height is the logarithm over three of them below the highest rate, our choice. */
const DECADES = 1_000;

/** One line for each quarter of the strip. */
const HOUR_LINES = [1, 2, 3].map((quarter) => `M${(quarter * WIDTH) / 4} 0V${HEIGHT}`).join('');

/** Height above the base for a rate, 1 for zero. `top`: the rate that fills the strip. */
export function heightOf(rate: number, top: number): number {
  const share = Math.log10(1 + (rate * DECADES) / top) / Math.log10(1 + DECADES);
  return Math.max(1, Math.min(1, share) * (BASE - 1));
}

interface Paths {
  readonly bars: string;
  readonly stood: string;
  readonly unknown: string;
  readonly silent: string;
}

export function drawPaths(strip: DayStrip, top: number): Paths {
  const width = WIDTH / strip.rates.length;
  // before its first reading a sensor was not silent, and the stretch that has just begun is not over
  const first = strip.states.search(/[^-]/);
  const parts = { bars: '', stood: '', unknown: '', silent: '' };
  strip.rates.forEach((rate, step) => {
    const x = step * width;
    const right = (x + width - 0.6).toFixed(1);
    const left = x.toFixed(1);
    if (rate !== null)
      parts.bars += `M${left} ${BASE}V${(BASE - heightOf(rate, top)).toFixed(1)}H${right}V${BASE}Z`;
    const state = strip.states[step];
    if (state === '-') {
      if (first >= 0 && step >= first && step < strip.rates.length - 1)
        parts.silent += `M${left} ${HEIGHT - 1}L${right} ${BASE - 6}`;
    } else if (state === 'u') parts.unknown += `M${left} ${HEIGHT - 2}H${right}`;
    else if (rate === null) parts.stood += `M${left} ${HEIGHT - 2}H${(x + width).toFixed(1)}`;
  });
  return parts;
}

const STATE_NAMES: Readonly<Record<string, string>> = {
  r: 'running',
  s: 'stopped',
  t: 'starting or stopping',
  u: 'run state unknown',
  x: 'not counted',
  '-': 'silent',
};

/** One sentence for those who hear the page. */
export function describeStrip(strip: DayStrip, zone: string): string {
  const hours = (letter: string): number =>
    Math.round(((strip.states.split(letter).length - 1) * strip.stepMs) / 360_000) / 10;
  const ran = strip.rates.filter((rate): rate is number => rate !== null);
  const span = `since ${formatClock(strip.from, zone)}`;
  const shares = Object.entries(STATE_NAMES)
    .map(([letter, name]) => [hours(letter), name] as const)
    .filter(([length]) => length > 0)
    .map(([length, name]) => `${name} ${length} h`);
  const rates =
    ran.length === 0
      ? 'no rate'
      : `rate ${formatRate(Math.min(...ran))} to ${formatRate(Math.max(...ran))} a minute`;
  return `${span}: ${rates}; ${shares.join(', ')}`;
}

export function StripPicture({ strip, top, zone }: { strip: DayStrip | null; top: number; zone: string }) {
  if (strip === null) return <div class="strip is-empty" aria-hidden="true" />;
  const { bars, stood, unknown, silent } = drawPaths(strip, top);
  return (
    <svg
      class="strip"
      viewBox={`0 0 ${WIDTH} ${HEIGHT}`}
      preserveAspectRatio="none"
      role="img"
      aria-label={describeStrip(strip, zone)}
    >
      <path class="strip-hours" d={HOUR_LINES} />
      <path class="strip-stood" d={stood} />
      <path class="strip-silent" d={silent} />
      <path class="strip-unknown" d={unknown} />
      <path class="strip-bars" d={bars} />
    </svg>
  );
}
