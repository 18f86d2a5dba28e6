/**
 * Derives increments from the rows around a place: for each, the last good row before it and one row of look-ahead
 * decide. Works left to right until a row comes out as it was, so the result depends on the rows alone.
 */
import { fits, isGood, judge, plausiblePulses, type Judgement } from './counter.js';
import type { Increment } from './rows.js';
import { anchorAt, openChain, startOf, type Derived, type Opening } from './opening.js';
import { followRow, lastGoodBefore } from './segment.js';
import {
  askFor,
  markUnjudged,
  putRow,
  touch,
  type ChainState,
  type CoreState,
  type Run,
  type SensorState,
} from './state.js';
import { repost, windowOf } from './window.js';
import { Class, Flag, Reason } from './words.js';

/** Flags that derive decides; the others belong to the reading itself. */
const DERIVED =
  Flag.anchor | Flag.fromZero | Flag.torn | Flag.held | Flag.rejected | Flag.touchesCheck | Flag.wrapped;

function unknownBetween(
  before: Increment,
  row: Increment,
  found: Judgement,
  openedBy: Opening['openedBy'],
  most: number | null,
): Derived {
  return anchorAt(row, {
    openedBy,
    unknownReason: openedBy === 'width' ? 'may-have-wrapped' : 'reset',
    unknownFrom: Math.min(before.to, row.to),
    unknownTo: row.to,
    unknownLow: found.kind === 'unknown' ? found.low : row.count,
    unknownHigh: most,
  });
}

function deriveRow(sensor: SensorState, chain: ChainState, run: Run, index: number): Derived {
  const row = run.rows[index]!;
  const before = lastGoodBefore(run.rows, index);
  if (before === null) {
    if (!run.startsChain)
      throw new Error(
        `derive: no good row before (${row.sensor}, ${row.to}) in a run that does not start its chain`,
      );
    return openChain(sensor, chain, row);
  }
  const { plan } = sensor;
  const hasBoot = chain.boot !== null;
  const found = judge(plan, before, row, hasBoot);
  const most = row.to > before.to ? plausiblePulses(plan, row.to - before.to) : null;
  if (found.kind === 'unknown') return unknownBetween(before, row, found, found.openedBy, found.high);
  let flags = ((row.flags | before.flags) & Flag.check) !== 0 ? Flag.touchesCheck : 0;
  if (found.kind === 'implausible') {
    const next = run.rows[index + 1];
    if (next === undefined && run.endsChain)
      return { from: row.to, pulses: 0, flags: Flag.held, opening: null };
    if (next !== undefined && fits(plan, before, next, hasBoot))
      return { from: row.to, pulses: 0, flags: Flag.torn, opening: null };
    if (found.fall) return unknownBetween(before, row, found, 'fall', most);
    flags |= Flag.rejected;
  }
  if (found.wrapped) flags |= Flag.wrapped;
  return { from: before.to, pulses: found.pulses, flags, opening: null };
}

function reportChange(state: CoreState, sensor: SensorState, row: Increment, before: number): void {
  const fresh = row.flags & ~before;
  if ((fresh & Flag.torn) !== 0) {
    state.out.diagnostics.push({
      subject: sensor.key,
      kind: 'torn',
      at: row.to,
      detail: `count ${row.count} fits neither side: set aside`,
    });
  }
  if ((fresh & Flag.rejected) === 0) return;
  sensor.rejectedAt = state.now;
  touch(state, sensor);
}

/** Writes what was derived into a row; true when anything changed. A classified row is taken out of its window first. */
function applyDerived(
  state: CoreState,
  sensor: SensorState,
  chain: ChainState,
  run: Run,
  index: number,
  derived: Derived,
  fresh: boolean,
): boolean {
  const row = run.rows[index]!;
  const before = row.flags;
  const flags = (before & ~DERIVED) | derived.flags;
  const changed = flags !== before || row.from !== derived.from || row.pulses !== derived.pulses;
  if (!changed && !fresh) return reopen(state, chain, row, derived);
  const wasPending = row.class === Class.pending && !fresh;
  if (!fresh) repost(state, sensor, row, -1);
  row.flags = flags;
  row.from = derived.from;
  row.pulses = derived.pulses;
  const counts = (flags & (Flag.anchor | Flag.torn | Flag.held)) === 0;
  row.class = counts ? Class.pending : Class.none;
  row.bin = '';
  row.reason = Reason.none;
  putRow(state, row);
  followRow(state, sensor, chain, run, index, fresh ? 0 : before, derived.opening);
  reportChange(state, sensor, row, fresh ? 0 : before);
  if (
    derived.opening !== null &&
    derived.opening.unknownReason !== '' &&
    derived.opening.openedBy !== 'device'
  ) {
    sensor.unknownAt = state.now;
    touch(state, sensor);
  }
  if (counts) queue(state, sensor, row, wasPending);
  else if (!fresh) unqueue(state, sensor, row);
  return true;
}

/** Same increment, but what lies before its segment may be known better now. */
function reopen(state: CoreState, chain: ChainState, row: Increment, derived: Derived): boolean {
  if (derived.opening === null) return false;
  const segment = chain.segments.find((s) => s.startTo === row.to && s.startSeq === (row.seq ?? -1));
  if (segment === undefined) return false;
  const { openedBy, unknownReason, unknownFrom, unknownTo, unknownLow, unknownHigh } = derived.opening;
  const same =
    segment.openedBy === openedBy &&
    segment.unknownReason === unknownReason &&
    segment.unknownFrom === unknownFrom &&
    segment.unknownTo === unknownTo &&
    segment.unknownLow === unknownLow &&
    segment.unknownHigh === unknownHigh;
  if (same) return false;
  Object.assign(segment, derived.opening);
  state.out.segments.push(segment);
  return false;
}

/** A row to be classified: by the sweep when its window lies ahead, else by another look at the past. */
export function queue(state: CoreState, sensor: SensorState, row: Increment, alreadyQueued: boolean): void {
  const window = windowOf(row);
  if (window < sensor.sweptTo) {
    markUnjudged(state, sensor, window, window + 1);
    return;
  }
  if (alreadyQueued && sensor.pending.includes(row)) return;
  const { pending } = sensor;
  let i = pending.length;
  while (i > 0 && pending[i - 1]!.to > row.to) i--;
  if (i === pending.length) pending.push(row);
  else pending.splice(i, 0, row);
}

/** A row that carries no increment any more: nothing to sweep, and its window predicts without it. */
function unqueue(state: CoreState, sensor: SensorState, row: Increment): void {
  const at = sensor.pending.indexOf(row);
  if (at >= 0) sensor.pending.splice(at, 1);
  const window = windowOf(row);
  if (window < sensor.sweptTo) markUnjudged(state, sensor, window, window + 1);
}

/** Derives anew what a row at `place` (new or changed) may have changed. */
export function deriveAround(
  state: CoreState,
  sensor: SensorState,
  chain: ChainState,
  run: Run,
  place: number,
  fresh: boolean,
): void {
  const { rows } = run;
  let i = place;
  while (i > 0 && (rows[i - 1]!.flags & (Flag.torn | Flag.held | Flag.rejected | Flag.anchor)) !== 0) {
    if (i === 1 && !run.startsChain) break;
    i--;
  }
  if (i === 0 && !run.startsChain) i = place;
  for (; i < rows.length; i++) {
    const changed = applyDerived(
      state,
      sensor,
      chain,
      run,
      i,
      deriveRow(sensor, chain, run, i),
      fresh && i === place,
    );
    if (i > place && !changed && isGood(rows[i]!)) break;
  }
  if (run.endsChain) reopenFollowers(state, sensor, chain);
}

/** A chain that grew at its end, or began: the chains that came after it start from it. */
function reopenFollowers(state: CoreState, sensor: SensorState, chain: ChainState): void {
  if (sensor.chains.length === 1 || chain === sensor.current) return;
  const start = startOf(chain);
  for (const other of sensor.chains) {
    const opens = startOf(other);
    if (other === chain || opens === null || start === null || opens < start) continue;
    if (other.startsChain && other.rows[0] !== undefined) {
      applyDerived(state, sensor, other, other, 0, deriveRow(sensor, other, other, 0), false);
    } else {
      askForFirst(state, sensor, other);
    }
  }
}

/** The first reading of a chain is no longer in memory: it is judged anew when the store has given it. */
function askForFirst(state: CoreState, sensor: SensorState, chain: ChainState): void {
  const first = chain.segments[0]!;
  const key = chain.bySeq ? first.startSeq : first.startTo;
  askFor(
    state,
    { neighbours: { sensor: sensor.key, chain: chain.id, bySeq: chain.bySeq, least: key, most: key } },
    (answer) => {
      const run: Run = { rows: answer.neighbours, startsChain: true, endsChain: false };
      if (run.rows.length > 0)
        applyDerived(state, sensor, chain, run, 0, deriveRow(sensor, chain, run, 0), false);
    },
  );
}
