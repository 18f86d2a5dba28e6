/**
 * Guided commissioning of one motor: start it, stop it, make sparks near each sensor, and see what was heard. A pure function
 * from what the store holds since a step began to what the step shows; nothing here is remembered.
 * Source: steps and limits are our choice. That a spark near the sensor must be counted is common practice, no source.
 * Times in ms.
 */
import { regularisedBeta } from '../stats/beta.js';

export const STEP_KINDS = ['start', 'stop', 'check'] as const;
export type StepKind = (typeof STEP_KINDS)[number];

export const VERDICT_STATES = ['waiting', 'passed', 'doubtful', 'failed'] as const;
export type VerdictState = (typeof VERDICT_STATES)[number];

export const RUN_STATES = ['open', 'passed', 'doubtful', 'failed', 'incomplete', 'abandoned'] as const;
export type RunState = (typeof RUN_STATES)[number];

/** Who waits longer than this for a start, a stop or a spark has missed it. */
export const PATIENCE_MS: Readonly<Record<StepKind, number>> = {
  start: 300_000,
  stop: 300_000,
  check: 180_000,
};
/** Counted at standstill for so long, or for three intervals where that is longer. */
export const BACKGROUND_MS = 60_000;
/** Without a run-state signal the motor is taken to start, or to have come to a stop, within so long. */
const RUN_UP_MS = 120_000;
const RUN_DOWN_MS = 30_000;
const SLICE_MS = 20_000;
/** What goes before a step is its yardstick. */
export const BEFORE_MS = 600_000;
/** Chance, by which a sensor that hears nothing new would be said to hear something. Our choice. */
export const CHANCE = 0.001;

/**
 * Pulses of whole increments: of those that meet the span, at a stop only of those within it, and of those within the 10 min
 * before it. Before it starts and stops are left out, and of the motor's own sensors its running too.
 */
export interface HeardCounts {
  readonly sensor: string;
  readonly motor: string;
  readonly pulses: number;
  readonly ms: number;
  readonly beforePulses: number;
  readonly beforeMs: number;
  /** end of its newest increment; null: none */
  readonly coveredTo: number | null;
}

export interface Heard {
  readonly sensor: string;
  readonly motor: string;
  readonly isOwn: boolean;
  readonly pulses: number;
  readonly ms: number;
  /** null: there was nothing before */
  readonly expected: number | null;
  readonly isHeard: boolean;
  readonly isCovered: boolean;
}

export interface DriveMessage {
  readonly motor: string;
  readonly at: number;
  readonly state: string;
  readonly modulating: boolean;
}

export interface Span {
  readonly from: number;
  readonly to: number;
}

/** What a step is judged by. */
export interface StepEvidence {
  readonly motor: string;
  /** `<motor>/<position>` of a check */
  readonly sensor: string | null;
  /** false: the drive reports nothing */
  readonly hasRunState: boolean;
  readonly begunAt: number;
  /** when the step was ended, or now */
  readonly now: number;
  /** longest interval of the motor's sensors */
  readonly intervalMs: number;
  /** since `begunAt`, of every motor, and the last one before it of this motor; ascending */
  readonly drives: readonly DriveMessage[];
  /** null: no span is known yet */
  readonly span: Span | null;
  /** of the sensors of the motor, and of others */
  readonly heard: readonly HeardCounts[];
  /** sensors of other motors that the configuration couples to this drive: that they hear it is known; absent: none */
  readonly coupled?: readonly string[];
  /** of how many slices of the span the counts are the loudest; absent: they are of the whole span */
  readonly slices?: number;
}

export interface Verdict {
  readonly state: VerdictState;
  readonly says: string;
  readonly todo: string;
  readonly span: Span | null;
  readonly drives: readonly DriveMessage[];
  readonly sensors: readonly Heard[];
}

export const isStill = ({ state, modulating }: DriveMessage): boolean =>
  (state === 'stopped' || state === 'fault') && !modulating;

/** A drive's clock may be a little behind that of whoever presses the button. */
const CLOCK_SLACK_MS = 2_000;

/**
 * Where a drive told another state than before, since the step began. A message that repeats a state is none; the first that
 * was ever heard of the motor itself is one, of another motor it is not.
 */
export function listChanges({ drives, motor, begunAt }: StepEvidence): DriveMessage[] {
  const last = new Map<string, DriveMessage>();
  return drives.filter((each) => {
    const before = last.get(each.motor);
    last.set(each.motor, each);
    if (each.at < begunAt - CLOCK_SLACK_MS) return false;
    if (before === undefined) return each.motor === motor;
    return before.state !== each.state || before.modulating !== each.modulating;
  });
}

export function ownChanges(evidence: StepEvidence): DriveMessage[] {
  return listChanges(evidence).filter(({ motor }) => motor === evidence.motor);
}

/** How the motor stood when the step began; null: nobody had said. */
export function findStateBefore({ drives, motor, begunAt }: StepEvidence): DriveMessage | null {
  return drives.filter((each) => each.motor === motor && each.at < begunAt - CLOCK_SLACK_MS).at(-1) ?? null;
}

/**
 * The span whose counts the step is about; null: what it waits for has not happened. `afterRunningMs`, `afterStoppedMs`: guards of
 * the plan. Without a run-state signal a start is looked for in the two minutes after the step began.
 */
export function findSpan(
  kind: StepKind,
  evidence: StepEvidence,
  guard: {
    readonly beforeMs: number;
    readonly afterRunningMs: number;
    readonly afterStoppedMs: number;
    readonly capMs: number;
  },
): Span | null {
  const { begunAt, hasRunState, now } = evidence;
  const backgroundMs = Math.max(BACKGROUND_MS, 3 * evidence.intervalMs);
  if (kind === 'check') return { from: begunAt, to: Math.min(now, begunAt + PATIENCE_MS.check) };
  if (!hasRunState) {
    const from = kind === 'start' ? begunAt : begunAt + RUN_DOWN_MS;
    return { from, to: from + (kind === 'start' ? RUN_UP_MS : backgroundMs) };
  }
  const own = ownChanges(evidence);
  if (kind === 'stop') {
    const still = own.find(isStill) ?? findStandstill(evidence);
    if (still === undefined) return null;
    const from = Math.max(still.at, begunAt) + guard.afterStoppedMs;
    return { from, to: from + backgroundMs };
  }
  const edge = own.find((each) => !isStill(each));
  if (edge === undefined) return null;
  const running = own.find((each) => each.at >= edge.at && each.state === 'running');
  const end = running === undefined ? edge.at + guard.capMs : running.at + guard.afterRunningMs;
  return { from: edge.at - guard.beforeMs, to: Math.min(end, edge.at + guard.capMs) };
}

/** A motor that stands already when it is to be stopped need not be stopped. */
function findStandstill(evidence: StepEvidence): DriveMessage | undefined {
  const before = findStateBefore(evidence);
  return before !== null && isStill(before) && ownChanges(evidence).length === 0 ? before : undefined;
}

/**
 * A check is judged by its loudest slice, so that sparks once heard stay heard however long the step goes on. A slice holds two
 * increments at least.
 */
export function cutSlices(
  span: Span,
  intervalMs: number,
): { readonly slices: readonly Span[]; readonly most: number } {
  const length = Math.min(PATIENCE_MS.check, Math.max(SLICE_MS, 2 * intervalMs));
  const slices: Span[] = [];
  for (let from = span.from; from < span.to; from += length)
    slices.push({ from, to: Math.min(span.to, from + length) });
  return { slices, most: Math.ceil(PATIENCE_MS.check / length) };
}

/** Of each sensor the slice in which it counted most; the lists are in the same order. */
export function pickLoudest(slices: readonly (readonly HeardCounts[])[]): HeardCounts[] {
  const [first = [], ...rest] = slices;
  return first.map((counts, place) =>
    rest.reduce(
      (loudest, slice) => (slice[place]!.pulses > loudest.pulses ? slice[place]! : loudest),
      counts,
    ),
  );
}

/** Each sensor against its own ten minutes before; own ones first, then those that heard most. */
export function compareHeard({ heard, motor, span, slices = 1 }: StepEvidence): Heard[] {
  const rows = heard.map((each): Heard => {
    const { sensor, pulses, ms, beforePulses, beforeMs, coveredTo } = each;
    return {
      ...{ sensor, motor: each.motor, isOwn: each.motor === motor, pulses, ms },
      expected: beforeMs > 0 ? (beforePulses * ms) / beforeMs : null,
      isHeard: chanceOf(each) * slices < CHANCE,
      isCovered: span !== null && coveredTo !== null && coveredTo >= span.to,
    };
  });
  const excess = (row: Heard): number => row.pulses - (row.expected ?? 0);
  return rows.sort(
    (a, b) => Number(b.isOwn) - Number(a.isOwn) || excess(b) - excess(a) || (a.sensor < b.sensor ? -1 : 1),
  );
}

/** Of a new sensor there is little to compare with: then three pulses at three times the rate before are taken as heard. */
const BEFORE_LEAST_MS = 60_000;
const CLEAR_PULSES = 3;
const CLEAR_TIMES = 3;

/**
 * How likely so many pulses would be if nothing had changed: one-sided, given their sum.
 * Source: exact conditional test of two Poisson rates, Przyborowski and Wilenski, Biometrika 31 (1940), from memory.
 */
function chanceOf({ pulses, ms, beforePulses, beforeMs }: HeardCounts): number {
  if (pulses === 0) return 1;
  if (beforeMs < BEFORE_LEAST_MS) {
    const isMore = beforeMs === 0 || pulses * beforeMs > CLEAR_TIMES * beforePulses * ms;
    return pulses >= CLEAR_PULSES && isMore ? 0 : 1;
  }
  if (ms === 0) return 0;
  const share = ms / (ms + beforeMs);
  return regularisedBeta(pulses, beforePulses + 1, share);
}
