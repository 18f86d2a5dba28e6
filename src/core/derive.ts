/**
 * Derives increments from the rows around a place: for each, the last good row before it and one row of look-ahead
 * decide. Works left to right until a row comes out as it was, so the result depends on the rows alone.
 */
import { fits, isGood, judge, plausiblePulses, type Judgement } from './counter.js';
import type { Increment, Segment } from './rows.js';
import { followRow, lastGoodBefore } from './segment.js';
import {
  askFor,
  markDirty,
  putRow,
  type ChainState,
  type CoreState,
  type Run,
  type SensorState,
} from './state.js';
import { repost, windowOf } from './window.js';
import { Class, Flag, Reason } from './words.js';

/** How a segment came to be, and what lies unknowable before it. */
export type Opening = Pick<
  Segment,
  'openedBy' | 'unknownReason' | 'unknownFrom' | 'unknownTo' | 'unknownLow' | 'unknownHigh'
>;

interface Derived {
  from: number;
  pulses: number;
  flags: number;
  opening: Opening | null;
}

/** Flags that derive decides; the others belong to the reading itself. */
const DERIVED =
  Flag.anchor | Flag.fromZero | Flag.torn | Flag.held | Flag.rejected | Flag.touchesCheck | Flag.wrapped;

function nothingUnknown(openedBy: Opening['openedBy']): Opening {
  return { openedBy, unknownReason: '', unknownFrom: 0, unknownTo: 0, unknownLow: 0, unknownHigh: 0 };
}

function anchorAt(row: Increment, opening: Opening): Derived {
  return { from: row.to, pulses: 0, flags: Flag.anchor, opening };
}

/** Start of a chain in time, for ordering chains of one sensor; null when it has no segment yet. */
function startOf(chain: ChainState): number | null {
  return chain.segments[0]?.startTo ?? null;
}

/** The chain that came before in time, of the same device or of any. */
function chainBefore(
  sensor: SensorState,
  chain: ChainState,
  row: Increment,
  device: string | null,
): ChainState | null {
  let found: ChainState | null = null;
  for (const other of sensor.chains) {
    const start = startOf(other);
    if (other === chain || start === null || (device !== null && other.device !== device)) continue;
    if (start > row.to || (start === row.to && other.id > chain.id)) continue;
    if (
      found === null ||
      start > startOf(found)! ||
      (start === startOf(found) && (other.boot ?? 0) > (found.boot ?? 0))
    )
      found = other;
  }
  return found;
}

function lastSegment(chain: ChainState): Segment {
  return chain.segments[chain.segments.length - 1]!;
}

/** The first reading of a new boot of a known device: it counts from zero at its power-up. */
function openBoot(sensor: SensorState, chain: ChainState, same: ChainState, row: Increment): Derived {
  const last = lastSegment(same);
  const { plan } = sensor;
  const powerUp =
    row.upMs === null ? last.lastTo : Math.max(row.to - row.upMs, Math.min(last.lastTo, row.to));
  const elapsed = row.upMs ?? Math.max(0, row.to - last.lastTo);
  const most = plausiblePulses(plan, Math.max(0, powerUp - last.lastTo));
  const skipped = chain.boot !== null && same.boot !== null && chain.boot !== same.boot + 1;
  const opening: Opening = {
    openedBy: 'boot',
    unknownReason: skipped ? 'skipped-boot' : 'power-cut',
    unknownFrom: Math.min(last.lastTo, powerUp),
    unknownTo: powerUp,
    unknownLow: 0,
    unknownHigh: row.upMs === null ? null : most,
  };
  const wrapMs = plan.counterBits === 53 ? Infinity : (2 ** plan.counterBits / plan.maxRatePerS) * 1000;
  if (elapsed >= wrapMs) {
    return anchorAt(row, {
      ...opening,
      unknownReason: 'may-have-wrapped',
      unknownTo: row.to,
      unknownLow: row.count,
      unknownHigh: null,
    });
  }
  const rejected = elapsed > 0 && row.count > plausiblePulses(plan, elapsed) ? Flag.rejected : 0;
  return { from: powerUp, pulses: row.count, flags: Flag.fromZero | rejected, opening };
}

/** The first reading of a chain. */
function openChain(sensor: SensorState, chain: ChainState, row: Increment): Derived {
  const before = chainBefore(sensor, chain, row, null);
  if (before === null) return anchorAt(row, nothingUnknown('first'));
  const same = chain.boot === null ? null : chainBefore(sensor, chain, row, chain.device);
  if (same !== null && same.boot !== null && same.boot !== chain.boot)
    return openBoot(sensor, chain, same, row);
  const last = lastSegment(before).lastTo;
  return anchorAt(row, {
    openedBy: before.device === chain.device ? 'restart' : 'device',
    unknownReason: before.device === chain.device ? 'restart' : 'device-swap',
    unknownFrom: Math.min(last, row.to),
    unknownTo: row.to,
    unknownLow: 0,
    unknownHigh: plausiblePulses(sensor.plan, Math.max(0, row.to - last)),
  });
}

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
  if ((fresh & Flag.rejected) !== 0) sensor.rejectedAt = state.now;
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
  row.reason = Reason.none;
  putRow(state, row);
  followRow(state, sensor, chain, run, index, fresh ? 0 : before, derived.opening);
  reportChange(state, sensor, row, fresh ? 0 : before);
  if (
    derived.opening !== null &&
    derived.opening.unknownReason !== '' &&
    derived.opening.openedBy !== 'device'
  )
    sensor.unknownAt = state.now;
  if (counts) queue(state, sensor, row, wasPending);
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
function queue(state: CoreState, sensor: SensorState, row: Increment, alreadyQueued: boolean): void {
  const window = windowOf(row);
  if (window < sensor.sweptTo) {
    markDirty(state, sensor, window, window + 1);
    return;
  }
  if (alreadyQueued && sensor.pending.includes(row)) return;
  const { pending } = sensor;
  let i = pending.length;
  while (i > 0 && pending[i - 1]!.to > row.to) i--;
  if (i === pending.length) pending.push(row);
  else pending.splice(i, 0, row);
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
