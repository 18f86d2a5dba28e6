/**
 * Order: each reading to its chain, in its place, whatever the order of arrival. At the end of a chain it is added; in
 * the middle it splits the increment it falls into; what the place says about its neighbours is found by derive.ts.
 * So increments are a function of the set of readings.
 */
import { deriveAround } from './derive.js';
import type { ReadingFact } from './facts.js';
import type { Increment } from './rows.js';
import { diagnose, type ChainState, type CoreState, type Run, type SensorState } from './state.js';
import { Class, Flag, Reason } from './words.js';

/** Readings kept in memory per chain beyond what is pending. */
const KEPT_ROWS = 24;
/** Distance from the oldest row in memory within which a place can be judged without asking the store. */
export const CONTEXT_ROWS = 4;

/** A reading as a row; null: it is older than may be revised. */
export function toRow(
  state: CoreState,
  sensor: SensorState,
  chain: ChainState,
  fact: ReadingFact,
): Increment {
  let flags = fact.check ? Flag.check : 0;
  if (!sensor.motor.plan.hasRunState) flags |= Flag.uncertain;
  let to = fact.receivedAt;
  const at = fact.at;
  if (
    at !== null &&
    at <= fact.receivedAt + state.plan.futureToleranceMs &&
    at >= fact.receivedAt - state.plan.reviseHorizonMs
  ) {
    to = at;
  } else if (at === null && fact.upMs !== null) {
    chain.upAnchor ??= fact.receivedAt - fact.upMs;
    to = chain.upAnchor + fact.upMs;
    flags |= Flag.uncertain | Flag.noAt;
  } else {
    flags |= Flag.uncertain | Flag.noAt;
    if (at !== null)
      diagnose(
        state,
        sensor.key,
        'clock-doubtful',
        fact.receivedAt,
        `the device says ${at}: taken as the time of arrival`,
      );
  }
  if (sensor.clock.off) flags |= Flag.clockOff;
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
    diagnose(
      state,
      sensor.key,
      'late-without-time',
      row.to,
      `a late reading (seq ${row.seq}) carries no time: dropped, its pulses are in the next increment`,
    );
    return;
  }
  if (atEnd && run.endsChain && last !== undefined && mergeArrival(state, sensor, chain, run, row)) return;
  rows.splice(place, 0, row);
  if (!atEnd) diagnose(state, sensor.key, 'late', row.to, 'a late reading refined an increment');
  deriveAround(state, sensor, chain, run, place, true);
}

/** Readings without sequence at the same time are the same place; so are two with the same sequence. */
function isSameReading(bySeq: boolean, a: Increment, b: Increment): boolean {
  if (bySeq || (a.seq !== null && b.seq !== null)) return compareRows(bySeq, a, b) === 0;
  return a.to === b.to;
}

function settleDuplicate(state: CoreState, sensor: SensorState, first: Increment, row: Increment): void {
  const timed = ((first.flags | row.flags) & Flag.noAt) === 0;
  if (first.count === row.count && (!timed || first.to === row.to)) {
    diagnose(state, sensor.key, 'duplicate', row.to, 'the same reading came again: dropped');
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
  const row = toRow(state, sensor, chain, fact);
  if (chain.bySeq) row.seq ??= 0;
  const { rows } = chain;
  const last = rows[rows.length - 1];
  const atEnd = last !== undefined && compareRows(chain.bySeq, last, row) < 0;
  const fresh = rows.length === 0 && chain.startsChain;
  if (!atEnd && !fresh && fact.at !== null && fact.at < state.now - state.plan.reviseHorizonMs) {
    diagnose(
      state,
      sensor.key,
      'too-late',
      fact.receivedAt,
      'a reading older than the horizon was dropped: its pulses are in a longer increment',
    );
    return;
  }
  if (!atEnd && !chain.startsChain && placeOf(chain.bySeq, rows, row) < CONTEXT_ROWS) {
    chain.waiting.push(fact);
    state.lateChains.set(chain, sensor);
    return;
  }
  if (!atEnd && !fresh && !fitsByTime(state, sensor, chain, row, fact)) return;
  insertRow(state, sensor, chain, chain, row);
  trimChain(chain);
}

/**
 * A chain without boot numbers is ordered by time, and a sequence that goes on while time falls is a clock that
 * stepped: the reading is then taken at its arrival. One that fits nowhere is dropped. False: dropped.
 */
function fitsByTime(
  state: CoreState,
  sensor: SensorState,
  chain: ChainState,
  row: Increment,
  fact: ReadingFact,
): boolean {
  if (chain.bySeq || row.seq === null) return true;
  const { rows } = chain;
  const place = placeOf(false, rows, row);
  const next = rows[place];
  const previous = rows[place - 1];
  if (next === undefined || previous === undefined || next.seq === null || previous.seq === null) return true;
  if (previous.seq > next.seq || row.seq <= next.seq) return true;
  const last = rows[rows.length - 1]!;
  if (row.seq > last.seq! && fact.receivedAt > last.to) {
    diagnose(
      state,
      sensor.key,
      'clock-step',
      fact.receivedAt,
      `the device clock went back by ${last.to - row.to} ms: taken as the time of arrival`,
    );
    row.to = fact.receivedAt;
    row.from = row.to;
    row.flags |= Flag.uncertain | Flag.noAt;
    return true;
  }
  diagnose(
    state,
    sensor.key,
    'misfit',
    fact.receivedAt,
    `seq ${row.seq} fits nowhere by time: dropped, its pulses are in another increment`,
  );
  return false;
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
