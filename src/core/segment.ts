/**
 * Segments: each unbroken run of a counter, with its first and last count and its wraps, kept apart from the increments
 * so that the two can be held against each other. A segment starts at a row that anchors or that counts from zero.
 */
import { modulusOf } from './counter.js';
import type { Opening } from './opening.js';
import type { Increment, Segment } from './rows.js';
import { askFor, type ChainState, type CoreState, type Run, type SensorState } from './state.js';
import { Flag } from './words.js';

/** A device clock may be off by this much within one chain. */
const RECOUNT_MARGIN_MS = 86_400_000;
const STARTS = Flag.anchor | Flag.fromZero;

export function startsSegment(flags: number): boolean {
  return (flags & STARTS) !== 0;
}

/** Order of a row against the start of a segment, in chain order. */
function compareToStart(chain: ChainState, row: Increment, segment: Segment): number {
  if (chain.bySeq) return row.seq! - segment.startSeq;
  return row.to - segment.startTo || (row.seq ?? -1) - segment.startSeq;
}

/** Index of the segment that a row lies in; −1: before the first. */
export function findSegment(chain: ChainState, row: Increment): number {
  for (let i = chain.segments.length - 1; i >= 0; i--)
    if (compareToStart(chain, row, chain.segments[i]!) >= 0) return i;
  return -1;
}

function openSegment(chain: ChainState, sensor: SensorState, row: Increment, opening: Opening): Segment {
  return {
    sensor: sensor.key,
    chain: chain.id,
    startTo: row.to,
    startSeq: row.seq ?? -1,
    firstCount: (row.flags & Flag.fromZero) !== 0 ? 0 : row.count,
    lastTo: row.to,
    lastSeq: row.seq ?? -1,
    lastCount: row.count,
    wraps: 0,
    modulus: modulusOf(sensor.plan.counterBits),
    ...opening,
  };
}

function setLast(segment: Segment, row: Increment): void {
  segment.lastTo = row.to;
  segment.lastSeq = row.seq ?? -1;
  segment.lastCount = row.count;
}

function isLast(segment: Segment, row: Increment): boolean {
  return segment.lastTo === row.to && segment.lastSeq === (row.seq ?? -1);
}

/** A row that now starts a segment: a new one, cut out of the one it lay in. */
function cut(
  state: CoreState,
  sensor: SensorState,
  chain: ChainState,
  run: Run,
  index: number,
  opening: Opening,
): Segment {
  const row = run.rows[index]!;
  const segment = openSegment(chain, sensor, row, opening);
  const at = findSegment(chain, row);
  const around = at >= 0 ? chain.segments[at]! : null;
  chain.segments.splice(at + 1, 0, segment);
  if (around === null) return segment;
  const previous = lastGoodBefore(run.rows, index);
  const wholeBehind = compareLast(chain, around, row) > 0;
  if (wholeBehind) {
    segment.lastTo = around.lastTo;
    segment.lastSeq = around.lastSeq;
    segment.lastCount = around.lastCount;
    if (around.wraps !== 0) {
      const parts = [around, segment];
      recountWraps(state, sensor, chain, earliest(parts), latest(parts));
    }
  }
  if (previous !== null) setLast(around, previous);
  state.out.segments.push(around);
  return segment;
}

function compareLast(chain: ChainState, segment: Segment, row: Increment): number {
  return chain.bySeq
    ? segment.lastSeq - row.seq!
    : segment.lastTo - row.to || segment.lastSeq - (row.seq ?? -1);
}

/** Times of both ends: in a chain ordered by sequence a segment may begin later than it ends. */
function earliest(segments: Iterable<Segment>): number {
  return Math.min(...[...segments].flatMap((s) => [s.startTo, s.lastTo]));
}

function latest(segments: Iterable<Segment>): number {
  return Math.max(...[...segments].flatMap((s) => [s.startTo, s.lastTo]));
}

/**
 * After a cut the wraps of both parts are counted anew from the stored rows. Rows are stored by time and a chain may be
 * ordered by sequence, so rows are read from beyond both ends; parts that were cut again meanwhile are counted with
 * them, and those that grew are asked for again.
 */
function recountWraps(
  state: CoreState,
  sensor: SensorState,
  chain: ChainState,
  least: number,
  most: number,
): void {
  const range = { fromTo: least - RECOUNT_MARGIN_MS, toTo: most + RECOUNT_MARGIN_MS };
  askFor(state, { increments: { sensor: sensor.key, ...range } }, (answer) => {
    const parts = new Set(chain.segments.filter((s) => earliest([s]) <= most && latest([s]) >= least));
    const first = Math.min(least, earliest(parts));
    const last = Math.max(most, latest(parts));
    if (first < least || last > most) {
      recountWraps(state, sensor, chain, first, last);
      return;
    }
    for (const segment of parts) segment.wraps = 0;
    for (const row of answer.increments) {
      if (row.chain !== chain.id || (row.flags & Flag.wrapped) === 0) continue;
      const owner = chain.segments[findSegment(chain, row)];
      if (owner !== undefined && parts.has(owner)) owner.wraps += 1;
    }
    state.out.segments.push(...parts);
  });
}

/** A row that started a segment and does no more: its segment joins the one before. */
function join(state: CoreState, chain: ChainState, row: Increment): void {
  const at = chain.segments.findIndex((s) => s.startTo === row.to && s.startSeq === (row.seq ?? -1));
  if (at < 1) return;
  const gone = chain.segments[at]!;
  const before = chain.segments[at - 1]!;
  before.wraps += gone.wraps;
  before.lastTo = gone.lastTo;
  before.lastSeq = gone.lastSeq;
  before.lastCount = gone.lastCount;
  chain.segments.splice(at, 1);
  state.out.segments = state.out.segments.filter((segment) => segment !== gone);
  state.out.removedSegments.push({
    sensor: gone.sensor,
    chain: gone.chain,
    startTo: gone.startTo,
    startSeq: gone.startSeq,
  });
  state.out.segments.push(before);
}

export function lastGoodBefore(rows: readonly Increment[], index: number): Increment | null {
  for (let i = index - 1; i >= 0; i--) if ((rows[i]!.flags & (Flag.torn | Flag.held)) === 0) return rows[i]!;
  return null;
}

/** A good row behind all others of its chain, which neither starts a segment nor wraps: the newest segment reaches to it. */
export function extendSegment(state: CoreState, chain: ChainState, row: Increment): void {
  const segment = chain.segments[chain.segments.length - 1]!;
  setLast(segment, row);
  state.out.segments.push(segment);
}

/** Brings the chain's segments in line with a row whose derived flags were `before` and are now as they stand. */
export function followRow(
  state: CoreState,
  sensor: SensorState,
  chain: ChainState,
  run: Run,
  index: number,
  before: number,
  opening: Opening | null,
): void {
  const row = run.rows[index]!;
  const started = startsSegment(before);
  const starts = startsSegment(row.flags);
  const owner = chain.segments[findSegment(chain, row)];
  if (owner !== undefined && (before & Flag.wrapped) !== 0) {
    owner.wraps -= 1;
    state.out.segments.push(owner);
  }
  if (started && !starts) join(state, chain, row);
  let at = findSegment(chain, row);
  if (starts && opening !== null) {
    const same = at >= 0 && compareToStart(chain, row, chain.segments[at]!) === 0;
    if (same)
      Object.assign(chain.segments[at]!, opening, {
        firstCount: (row.flags & Flag.fromZero) !== 0 ? 0 : row.count,
      });
    else cut(state, sensor, chain, run, index, opening);
    at = findSegment(chain, row);
  }
  const segment = chain.segments[at];
  if (segment === undefined) return;
  if ((row.flags & Flag.wrapped) !== 0) segment.wraps += 1;
  const good = (row.flags & (Flag.torn | Flag.held)) === 0;
  if (good && compareLast(chain, segment, row) <= 0) setLast(segment, row);
  else if (!good && isLast(segment, row)) {
    const previous = lastGoodBefore(run.rows, index);
    if (previous !== null) setLast(segment, previous);
  }
  state.out.segments.push(segment);
}
