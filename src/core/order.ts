/**
 * Order: each reading to its chain, in its place, whatever the order of arrival. At the end of a chain it is added; in
 * the middle it splits the increment it falls into; what the place says about its neighbours is found by derive.ts.
 * So increments are a function of the set of readings.
 */
import { deriveAround } from './derive.js';
import type { ReadingFact } from './facts.js';
import type { Increment } from './rows.js';
import { mendTimes } from './mended-time.js';
import { dateReading, doubtsOf } from './sample-time.js';
import { diagnose, type ChainState, type CoreState, type Run, type SensorState } from './state.js';
import { judgeTimeless } from './timeless.js';
import { Class, Flag, Reason } from './words.js';

/** Readings kept in memory per chain beyond what is pending. */
const KEPT_ROWS = 8;
/** Distance from the oldest row in memory within which a place can be judged without asking the store. */
export const CONTEXT_ROWS = 4;
const TOO_LATE = 'a reading older than the horizon was dropped: its pulses are in a longer increment';
const REPEATED = 'the same reading came again: dropped';

/** A reading as a row; null: it is older than may be revised. */
export function toRow(
  state: CoreState,
  sensor: SensorState,
  chain: ChainState,
  fact: ReadingFact,
): Increment {
  const { to, flags: dated } = dateReading(state, sensor, chain, fact);
  const flags = dated | doubtsOf(state, sensor, fact) | (fact.check ? Flag.check : 0);
  return {
    sensor: sensor.key,
    to,
    from: to,
    chain: chain.id,
    seq: fact.seq,
    count: fact.count,
    upMs: fact.upMs,
    pulses: 0,
    class: Class.pending,
    reason: Reason.none,
    flags,
    temperature: fact.temperatureC === null ? null : Math.round(10 * fact.temperatureC),
    bin: '',
    stored: false,
    putIn: 0,
  };
}

/** Order of two rows in their chain: negative, 0 (same key) or positive. */
export function compareRows(bySeq: boolean, a: Increment, b: Increment): number {
  if (bySeq) return a.seq! - b.seq!;
  return a.to - b.to || (a.seq ?? -1) - (b.seq ?? -1);
}

function placeOf(bySeq: boolean, rows: readonly Increment[], row: Increment): number {
  let low = 0;
  let high = rows.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (compareRows(bySeq, rows[middle]!, row) < 0) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** A reading with a place among rows that are known: a new row, a duplicate, or a conflict. */
export function insertRow(
  state: CoreState,
  sensor: SensorState,
  chain: ChainState,
  run: Run,
  row: Increment,
): void {
  const { rows } = run;
  const last = rows[rows.length - 1];
  const atEnd = last === undefined || compareRows(chain.bySeq, last, row) < 0;
  const place = atEnd ? rows.length : placeOf(chain.bySeq, rows, row);
  const there = rows[place];
  if (there !== undefined && isSameReading(chain.bySeq, there, row)) {
    settleDuplicate(state, sensor, there, row);
    return;
  }
  if (!atEnd && (row.flags & Flag.noAt) !== 0) {
    sayWithoutTime(state, sensor, row);
    return;
  }
  if (atEnd && run.endsChain && last !== undefined && mergeArrival(state, sensor, chain, run, row)) return;
  if (atEnd) rows.push(row);
  else rows.splice(place, 0, row);
  if (!atEnd) diagnose(state, sensor.key, 'late', row.to, 'a late reading refined an increment');
  deriveAround(state, sensor, chain, run, place, true);
}

function sayWithoutTime(state: CoreState, sensor: SensorState, row: Increment): void {
  const detail = `a late reading (seq ${row.seq}) carries no time: dropped, its pulses are in the next increment`;
  diagnose(state, sensor.key, 'late-without-time', row.to, detail);
}

/** Readings without sequence at the same time are the same place; so are two with the same sequence. */
function isSameReading(bySeq: boolean, a: Increment, b: Increment): boolean {
  if (bySeq || (a.seq !== null && b.seq !== null)) return compareRows(bySeq, a, b) === 0;
  return a.to === b.to;
}

function settleDuplicate(state: CoreState, sensor: SensorState, first: Increment, row: Increment): void {
  const timed = ((first.flags | row.flags) & Flag.noAt) === 0;
  if (first.count === row.count && (!timed || first.to === row.to)) {
    diagnose(state, sensor.key, 'duplicate', row.to, REPEATED);
    return;
  }
  diagnose(
    state,
    sensor.key,
    'conflict',
    row.to,
    `two readings claim the same place (seq ${row.seq ?? 'none'}): count ${first.count} stands, count ${row.count} is dropped`,
  );
}

/** A burst of readings without any time of their own came at once: they are one reading. */
function mergeArrival(
  state: CoreState,
  sensor: SensorState,
  chain: ChainState,
  run: Run,
  row: Increment,
): boolean {
  const last = run.rows[run.rows.length - 1]!;
  const timeless =
    (row.flags & Flag.noAt) !== 0 &&
    (last.flags & Flag.noAt) !== 0 &&
    row.upMs === null &&
    last.upMs === null;
  const same =
    last.class === Class.pending &&
    (last.flags & (Flag.anchor | Flag.fromZero | Flag.held | Flag.torn)) === 0;
  if (!timeless || !same || row.count < last.count || row.to - last.to >= sensor.plan.intervalMs / 2)
    return false;
  last.count = row.count;
  diagnose(state, sensor.key, 'merged', row.to, 'readings without a time arrived together: taken as one');
  deriveAround(state, sensor, chain, run, run.rows.length - 1, false);
  return true;
}

/** Adds a reading to its chain, or lets it wait for its neighbours from the store. */
export function addReading(
  state: CoreState,
  sensor: SensorState,
  chain: ChainState,
  fact: ReadingFact,
): void {
  mendTimes(state, sensor, chain, fact);
  const row = toRow(state, sensor, chain, fact);
  if (chain.bySeq) row.seq ??= 0;
  const { rows } = chain;
  const last = rows[rows.length - 1];
  let atEnd = last !== undefined && compareRows(chain.bySeq, last, row) < 0;
  const fresh = rows.length === 0 && chain.startsChain;
  if (!atEnd && !fresh && fact.at !== null && fact.at < state.now - state.plan.reviseHorizonMs) {
    diagnose(state, sensor.key, 'too-late', fact.receivedAt, TOO_LATE);
    return;
  }
  const place = atEnd || fresh ? 'fits' : placeByTime(chain, row, fact);
  if (place === 'step') {
    takeStep(state, sensor, last!, row, fact.receivedAt);
    atEnd = true;
  }
  if (!atEnd && !chain.startsChain && placeOf(chain.bySeq, rows, row) < CONTEXT_ROWS) {
    chain.waiting.push(fact);
    state.lateChains.set(chain, sensor);
    return;
  }
  if (place === 'nowhere') {
    sayMisfit(state, sensor, row, fact.receivedAt);
    return;
  }
  if (atEnd && dropsTimeless(state, sensor, chain, row)) return;
  insertRow(state, sensor, chain, chain, row);
  trimChain(chain);
}

/** Whether a reading without any time adds nothing; what it carries is counted in an increment that is there. */
function dropsTimeless(state: CoreState, sensor: SensorState, chain: ChainState, row: Increment): boolean {
  if (chain.bySeq) return false;
  const found = judgeTimeless(chain.rows, row);
  if (found === null) return false;
  if (found === 'repeated') diagnose(state, sensor.key, 'duplicate', row.to, REPEATED);
  else sayWithoutTime(state, sensor, row);
  return true;
}

/** How a late reading of a chain that is ordered by time lies to those in memory; a chain ordered by sequence has none. */
function placeByTime(chain: ChainState, row: Increment, fact: ReadingFact): 'fits' | 'step' | 'nowhere' {
  const { rows } = chain;
  const place = placeOf(false, rows, row);
  const next = rows[place];
  if (chain.bySeq || row.seq === null || next === undefined || next.seq === null || row.seq <= next.seq)
    return 'fits';
  const previous = rows[place - 1];
  const last = rows[rows.length - 1]!;
  const goesOn = row.seq > last.seq! && fact.receivedAt > last.to;
  // older than all that is known: of the time before a restart, unless it goes on where the newest one stopped
  if (previous === undefined) return goesOn && continuesCount(last, row) ? 'step' : 'fits';
  if (previous.seq === null || previous.seq > next.seq) return 'fits';
  return goesOn ? 'step' : 'nowhere';
}

/** The next readings of the same counter, a few of them lost at most. */
function continuesCount(last: Increment, row: Increment): boolean {
  const ranOn = last.upMs === null || row.upMs === null || row.upMs > last.upMs;
  return ranOn && row.count >= last.count && row.seq! - last.seq! <= CONTEXT_ROWS;
}

/** A sequence that goes on while time falls is a clock that stepped: the reading is taken at its arrival. */
function takeStep(
  state: CoreState,
  sensor: SensorState,
  last: Increment,
  row: Increment,
  receivedAt: number,
): void {
  const detail = `the device clock went back by ${last.to - row.to} ms: taken as the time of arrival`;
  diagnose(state, sensor.key, 'clock-step', receivedAt, detail);
  if ((last.flags & Flag.noAt) === 0) row.flags |= Flag.stepped;
  row.to = receivedAt;
  row.from = receivedAt;
  row.flags |= Flag.uncertain | Flag.noAt;
}

function sayMisfit(state: CoreState, sensor: SensorState, row: Increment, receivedAt: number): void {
  const detail = `seq ${row.seq} fits nowhere by time: dropped, its pulses are in another increment`;
  diagnose(state, sensor.key, 'misfit', receivedAt, detail);
}

/** Forgets rows that are stored and classified, beyond those that a late reading is likely to meet. */
export function trimChain(chain: ChainState): void {
  const { rows } = chain;
  if (rows.length < 3 * KEPT_ROWS) return;
  let cut = rows.length - KEPT_ROWS;
  for (let i = 0; i < cut; i++) {
    const row = rows[i]!;
    if (row.class === Class.pending || !row.stored) {
      cut = i;
      break;
    }
  }
  if (cut <= KEPT_ROWS / 2) return;
  rows.splice(0, cut);
  chain.startsChain = false;
}
