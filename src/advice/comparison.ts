/**
 * An answer that can be defended: the ratio of two sides under like conditions, with everything it rests on, and one plain
 * sentence. The arithmetic is `compare` of the statistics; here is what goes in, what is told, and when nothing is.
 */
import { compare, type BinCount, type CompareMethod } from '../stats/compare.js';
import { writeFactor, writeRatio } from './judgement.js';
import { unlikeReason, type Side } from './side.js';

/** Two-sided confidence of every comparison that a person asks for. Source: DESIGN section 5, 95 % unless said. */
export const CONFIDENCE = 0.95;

export interface BinCompared {
  readonly bin: string;
  readonly a: BinFigures;
  readonly b: BinFigures;
}

export interface BinFigures {
  readonly pulses: number;
  readonly ms: number;
  /** φ ≥ 1 */
  readonly phi: number;
}

export interface BinLeftOut {
  readonly bin: string;
  readonly reason: string;
  readonly ms: number;
}

export interface SideTold {
  readonly name: string;
  /** what was looked at, ms; null: nothing ran */
  readonly from: number | null;
  readonly to: number | null;
  /** in the shared bins */
  readonly pulses: number;
  readonly ms: number;
}

export interface ComparisonAnswer {
  readonly a: SideTold;
  readonly b: SideTold;
  /** a / b; null: b has no pulses, or nothing is shared */
  readonly ratio: number | null;
  readonly lower: number;
  /** null: no upper limit */
  readonly upper: number | null;
  readonly confidence: number;
  /** null: nothing is shared, so nothing can be said */
  readonly method: CompareMethod | null;
  /** two-sided, against equal rates */
  readonly p: number;
  /** Σ over the shared bins of the smaller exposure */
  readonly sharedMs: number;
  readonly binsUsed: readonly BinCompared[];
  readonly binsLeftOut: readonly BinLeftOut[];
  /** how much wider than of Poisson counts: factor on the variance */
  readonly dispersion: number;
  /** days of the jackknife; null: another method */
  readonly days: number | null;
  readonly sentence: string;
  /** what a careful reader must know besides */
  readonly notes: readonly string[];
}

const LEFT_OUT: Readonly<Record<string, string>> = {
  'only-a': 'only the first side has been there',
  'only-b': 'only the second side has been there',
  'no-exposure': 'nobody ran there',
};

const METHOD_WORDS: Readonly<Record<CompareMethod, string>> = {
  'conditional-exact': 'exact conditional limits',
  'mantel-haenszel':
    'Mantel-Haenszel ratio over the shared bins, limits widened by the dispersion of each side',
  jackknife: 'Mantel-Haenszel ratio over the shared bins, limits from leaving out one day after the other',
};

export function writeMethod(method: CompareMethod | null): string {
  return method === null ? 'none: nothing is shared' : METHOD_WORDS[method];
}

/** Compares a with b. `notes`: what the question itself has to add. */
export function answerComparison(a: Side, b: Side, notes: readonly string[] = []): ComparisonAnswer {
  const unlike = leaveUnlike([a, b]);
  const found = compare(toCompareSide(a), toCompareSide(b), { confidence: CONFIDENCE, nullRatio: 1 });
  const binsUsed = found.binsUsed.map((bin) => ({ bin, a: figuresOf(a, bin), b: figuresOf(b, bin) }));
  const answer = {
    a: tellSide(a, found.pulses.a, found.exposureMs.a),
    b: tellSide(b, found.pulses.b, found.exposureMs.b),
    ratio: found.ratio,
    lower: found.lower,
    upper: found.upper,
    confidence: found.confidence,
    method: found.method,
    p: found.p.twoSided,
    sharedMs: found.exposureMs.shared,
    binsUsed,
    binsLeftOut: [
      ...found.binsLeftOut.map(({ bin, reason, exposureMs }) => ({
        bin,
        reason: LEFT_OUT[reason] ?? reason,
        ms: exposureMs,
      })),
      ...unlike,
    ],
    dispersion: found.dispersion,
    days: found.days,
  };
  return {
    ...answer,
    sentence: writeSentence(answer),
    notes: [...notes, ...noteDispersion(a, b, found.binsUsed, found.method), ...noteLeftOut(answer)],
  };
}

function toCompareSide(side: Side) {
  const isLike = ({ bin }: { bin: string }): boolean => unlikeReason(bin) === null;
  const bins: BinCount[] = side.bins
    .filter(isLike)
    .map(({ bin, pulses, ms, phi }) => ({ bin, pulses, exposureMs: ms, phi }));
  const days = side.days
    .filter(isLike)
    .map(({ day, bin, pulses, ms }) => ({ day: String(day), bin, pulses, exposureMs: ms }));
  return { bins, days: days.length === 0 ? null : days };
}

function leaveUnlike(sides: readonly Side[]): BinLeftOut[] {
  const found = new Map<string, BinLeftOut>();
  for (const { bins } of sides) {
    for (const { bin, ms } of bins) {
      const reason = unlikeReason(bin);
      if (reason !== null) found.set(bin, { bin, reason, ms: ms + (found.get(bin)?.ms ?? 0) });
    }
  }
  return [...found.values()];
}

function figuresOf(side: Side, name: string): BinFigures {
  const found = side.bins.find(({ bin }) => bin === name);
  return { pulses: found?.pulses ?? 0, ms: found?.ms ?? 0, phi: found?.phi ?? 1 };
}

function tellSide({ name, from, to }: Side, pulses: number, ms: number): SideTold {
  return { name, from, to, pulses, ms };
}

function noteDispersion(a: Side, b: Side, used: readonly string[], method: CompareMethod | null): string[] {
  if (method === null || method === 'jackknife') return [];
  const isUncertain = [a, b].some(({ bins }) =>
    bins.some(({ bin, isPhiUncertain }) => isPhiUncertain && used.includes(bin)),
  );
  return isUncertain
    ? [
        'The limits are uncertain: fewer than ten blocks of 10 min of running in a bin, too few to know its bursts.',
      ]
    : [];
}

/** Share of the exposure beyond which leaving it out must be said. */
const LEFT_OUT_SHARE = 0.2;

function noteLeftOut({ a, b, binsLeftOut }: Pick<ComparisonAnswer, 'a' | 'b' | 'binsLeftOut'>): string[] {
  const left = binsLeftOut.reduce((total, { ms }) => total + ms, 0);
  const all = left + a.ms + b.ms;
  if (left === 0 || left < LEFT_OUT_SHARE * all) return [];
  return [
    `${Math.round((100 * left) / all)} % of the running time of the two sides is left out of the ratio.`,
  ];
}

type Figures = Omit<ComparisonAnswer, 'sentence' | 'notes'>;

/** `booster-4 de discharges 6.1 times (4.8 to 7.9) as often as the median of its group, under like conditions, over 31 h shared` */
function writeSentence(answer: Figures): string {
  const { a, b, ratio, lower, upper, method, sharedMs } = answer;
  if (method === null) return `${a.name} and ${b.name} have met no like conditions: nothing can be said.`;
  const tail = `under like conditions, over ${writeHours(sharedMs)} shared`;
  if (a.pulses === 0 && b.pulses === 0) return `Neither ${a.name} nor ${b.name} discharged, ${tail}.`;
  if (ratio === null) {
    return `${a.name} discharges at least ${writeFactor(lower)} times as often as ${b.name}, which did not discharge at all, ${tail}.`;
  }
  if (a.pulses === 0) {
    const most = upper === null ? '' : `, at most ${writeFactor(upper)} times as often as ${b.name}`;
    return `${a.name} did not discharge${most}, ${tail}.`;
  }
  const [factor = '', limits = ''] = writeRatio({ ratio, lower, upper }).split(' (');
  return `${a.name} discharges ${factor} times (${limits} as often as ${b.name}, ${tail}.`;
}

/** 111,600,000 -> "31 h"; below ten hours "3.4 h", below one "12 min". */
export function writeHours(ms: number): string {
  const hours = ms / 3_600_000;
  if (hours < 1) return `${Math.round(ms / 60_000)} min`;
  if (hours < 10) return `${hours.toFixed(1)} h`;
  return `${String(Math.round(hours)).replace(/\B(?=(\d{3})+$)/g, ',')} h`;
}
