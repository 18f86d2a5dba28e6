/**
 * A count over a set time at one sensor, as a technician takes one with a portable counter: the pulses of whole increments,
 * the time that they really cover, and the run state and operating condition beside it.
 * Source: common practice for such comparisons is the same place, the same running condition and a fixed time. Which
 * increments belong to it: those that end inside, as for every window (design, section 5), so that counts of adjoining
 * times add up. Increments are indivisible, so what is covered differs from what was asked for by up to one at each end.
 */
import { rateLimits } from '../stats/poisson.js';
import type { RunState, SensorKey } from './facts.js';
import { format } from './figures.js';
import type { GatePlan, MotorPlan } from './plan.js';
import type { DriveRow, Increment, PresenceRow, Spread, Sums } from './rows.js';
import { buildTimeline, findStretch, type Stretch } from './run-state.js';
import { dispersionIn } from './spread.js';
import { addRow, emptySums } from './window.js';
import { Class } from './words.js';

const CONFIDENCE = 0.95;

/** What is asked: `[from, to)` in ms, and what the configuration says that the rows do not. */
export interface CountQuery {
  readonly sensor: SensorKey;
  readonly from: number;
  readonly to: number;
  /** false: no run-state signal, taken as running throughout, uncertain */
  readonly hasRunState: boolean;
  /** null: the drive reports on change, or nobody knows */
  readonly heartbeatMs: number | null;
  readonly deadTimeS: number;
}

/** What the store holds about it. */
export interface CountRows {
  /** those that end in (from, to], in order of time */
  readonly increments: readonly Increment[];
  /** class of the first reading at or after `to`; null: there is none yet */
  readonly classAtEnd: Class | null;
  /** ascending by `at`, from the last before the increments begin until a little after `to` */
  readonly drives: readonly DriveRow[];
  readonly presences: readonly PresenceRow[];
  /** hours of running before and at it, newest first */
  readonly spreads: readonly Spread[];
}

/** A quantity over the time in which it was known. */
export interface Spell {
  readonly least: number;
  /** over time */
  readonly mean: number;
  readonly most: number;
  readonly knownMs: number;
}

/** Null: nobody told it meanwhile. */
export interface Condition {
  readonly speedRpm: Spell | null;
  readonly loadPct: Spell | null;
  readonly switchingKhz: Spell | null;
  readonly dcLinkV: Spell | null;
}

export interface TimedCount {
  readonly sensor: SensorKey;
  readonly from: number;
  readonly to: number;
  /** first and last instant of its increments; null: no increment ends inside */
  readonly covered: { readonly from: number; readonly to: number } | null;
  /** time of its increments, summed; less than the span where something is missing between them */
  readonly coveredMs: number;
  readonly increments: number;
  readonly pulses: number;
  /** by class; index 8: not classified yet */
  readonly sums: Sums;
  readonly strip: readonly { from: number; to: number; state: RunState | 'unknown'; modulating: boolean }[];
  readonly condition: Condition;
  /** pulses per minute of running exposure with 95 % limits; null: no running exposure */
  readonly ratePerMin: number | null;
  readonly lowerPerMin: number | null;
  readonly upperPerMin: number | null;
  readonly dispersion: number;
  readonly quality: 'good' | 'uncertain' | 'bad';
  /** everything in it has its class, and a reading covers the end */
  readonly isSettled: boolean;
  /** what it says and does not say, in plain words */
  readonly says: string;
}

/** Guards are of no interest here, so their lengths are nothing. */
const NO_GUARDS: GatePlan = {
  ...{ beforeEdgeMs: 0, afterRunningMs: 0, afterStoppedMs: 0, capMs: 0, mergeMs: 0 },
  ...{ coupledMs: 0, settleMs: 0, settleWaitMs: 0, maxIntervalFactor: 1 },
};
const ANY_STEP = 1;
/** Less than this is not worth a word. */
const LEAST_TOLD_MS = 50;

/** Deterministic; reads no clock. */
export function countTime(query: CountQuery, rows: CountRows): TimedCount {
  const { sensor, from, to } = query;
  const own = rows.increments.filter((row) => row.class !== Class.none);
  const sums = emptySums();
  let pulses = 0;
  for (const row of own) {
    addRow(sums, row, 1);
    pulses += row.pulses;
  }
  const covered =
    own.length === 0
      ? null
      : {
          from: own.reduce((least, row) => Math.min(least, row.from), Infinity),
          to: own.reduce((most, row) => Math.max(most, row.to), -Infinity),
        };
  const { dispersion, uncertain } = dispersionIn(rows.spreads, rows.increments);
  const runningMs = sums.ms[Class.running]!;
  const { deadTimeS } = query;
  const limits = rateLimits(sums.pulses[Class.running]!, runningMs, {
    ...{ confidence: CONFIDENCE, dispersion, deadTimeS },
  });
  const strip = stripOf(query, rows, covered ?? { from, to });
  const isPending = own.some((row) => row.class === Class.pending);
  const doubtful = uncertain || sums.uncertainMs > 0 || !query.hasRunState || limits?.uncertain === true;
  const found = {
    ...{ sensor, from, to, covered, increments: own.length, pulses, sums, strip, dispersion },
    coveredMs: sums.ms.reduce((sum, ms) => sum + ms, 0),
    condition: conditionOf(rows.drives, strip),
    ratePerMin: limits?.ratePerMin ?? null,
    lowerPerMin: limits?.lowerPerMin ?? null,
    upperPerMin: limits?.upperPerMin ?? null,
    quality: limits === null ? ('bad' as const) : doubtful ? ('uncertain' as const) : ('good' as const),
    isSettled: !isPending && rows.classAtEnd !== null && rows.classAtEnd !== Class.pending,
  };
  return { ...found, says: describeCount(found) };
}

function stripOf(
  query: CountQuery,
  { drives, presences }: CountRows,
  span: { from: number; to: number },
): TimedCount['strip'] {
  const motor: MotorPlan = {
    ...{ key: '', zone: '', dutyGroup: '', rampMs: 0, clockErrorMs: 0 },
    ...{ hasRunState: query.hasRunState, heartbeatMs: query.heartbeatMs },
  };
  const { stretches } = buildTimeline(motor, NO_GUARDS, ANY_STEP, drives, presences);
  const strip: Stretch[] = [];
  for (let i = findStretch(stretches, span.from); i < stretches.length; i++) {
    const { from, to, state, modulating } = stretches[i]!;
    if (from >= span.to) break;
    if (to <= span.from) continue;
    strip.push({ from: Math.max(from, span.from), to: Math.min(to, span.to), state, modulating });
  }
  return strip;
}

/** What was told last holds until the next message, where the run state is known. */
function conditionOf(drives: readonly DriveRow[], strip: TimedCount['strip']): Condition {
  const times = findTimes(drives, strip);
  const spellOf = (take: (row: DriveRow) => number | null): Spell | null => {
    let least = Infinity;
    let most = -Infinity;
    let sum = 0;
    let knownMs = 0;
    drives.forEach((row, i) => {
      const value = take(row);
      const ms = times[i]!;
      if (value === null || ms <= 0) return;
      least = Math.min(least, value);
      most = Math.max(most, value);
      sum += value * ms;
      knownMs += ms;
    });
    return knownMs === 0 ? null : { least, mean: sum / knownMs, most, knownMs };
  };
  return {
    speedRpm: spellOf((row) => row.speedRpm),
    loadPct: spellOf((row) => row.loadPct),
    switchingKhz: spellOf((row) => row.switchingKhz),
    dcLinkV: spellOf((row) => row.dcLinkV),
  };
}

/** For each message the time of the strip over which it was the last and the state was known. Both in order of time. */
function findTimes(drives: readonly DriveRow[], strip: TimedCount['strip']): number[] {
  let first = 0;
  return drives.map((row, i) => {
    const until = drives[i + 1]?.at ?? Infinity;
    let ms = 0;
    while (first < strip.length && strip[first]!.to <= row.at) first += 1;
    for (let k = first; k < strip.length && strip[k]!.from < until; k++) {
      const { from, to, state } = strip[k]!;
      if (state !== 'unknown') ms += Math.min(to, until) - Math.max(from, row.at);
    }
    return ms;
  });
}

type Told = Omit<TimedCount, 'says'>;

function describeCount(count: Told): string {
  const { sensor, covered, pulses, coveredMs } = count;
  if (covered === null) {
    return `No increment of ${sensor} ends in this time: nothing was counted, and that is not zero.`;
  }
  const sentences = [
    `${sensor} counted ${pulses} pulses in ${seconds(coveredMs)} of whole increments.`,
    describeSpan(count, covered),
    describeRunning(count),
    `A portable counter held at the same place for the same ${seconds(covered.to - covered.from)}, at the same threshold, ` +
      `sees the same discharges: compare its total with ${pulses}.`,
  ];
  const { lowerPerMin, upperPerMin } = count;
  if (lowerPerMin !== null && upperPerMin !== null) {
    const high = upperPerMin === Infinity ? 'more than can be counted' : format(upperPerMin);
    sentences.push(
      `${isOneCondition(count) ? 'Under this condition' : 'While it ran'} the rate lies between ${format(lowerPerMin)} and ${high} per minute of running (95 %); ` +
        `a count taken there at another time varies by chance on its own as well.`,
    );
  }
  if (!count.isSettled) sentences.push('Not all of it is classified yet: ask again.');
  return sentences.filter((sentence) => sentence !== '').join(' ');
}

function describeSpan({ from, to, coveredMs }: Told, covered: { from: number; to: number }): string {
  const early = from - covered.from;
  const short = to - covered.to;
  const missing = covered.to - covered.from - coveredMs;
  const tells = (ms: number): boolean => Math.abs(ms) >= LEAST_TOLD_MS;
  const parts = [
    tells(early)
      ? `begins ${seconds(Math.abs(early))} ${early > 0 ? 'before' : 'after'} the time asked for`
      : '',
    tells(short) ? `ends ${seconds(short)} before its end` : '',
    tells(missing) ? `leaves out ${seconds(missing)} between` : '',
  ].filter((part) => part !== '');
  if (parts.length === 0) return 'They cover the time asked for, to a tenth of a second.';
  return `Increments are indivisible, so the count ${parts.join(' and ')}.`;
}

function isOneCondition({ strip }: Pick<Told, 'strip'>): boolean {
  return new Set(strip.map(({ state, modulating }) => `${state}/${modulating}`)).size <= 1;
}

function describeRunning({ sums, pulses, strip }: Told): string {
  const running = sums.pulses[Class.running]!;
  const mixed = isOneCondition({ strip })
    ? ''
    : 'The run state changed meanwhile, so this is not one condition.';
  return running === pulses
    ? mixed
    : `${running} of them came while it ran.${mixed === '' ? '' : ` ${mixed}`}`;
}

function seconds(ms: number): string {
  return `${(ms / 1000).toFixed(ms % 1000 === 0 ? 0 : 1)} s`;
}
