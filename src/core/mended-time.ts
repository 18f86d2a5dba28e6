/**
 * Mended times: readings that were taken at their arrival, because the device had no good clock yet, are dated once a later
 * one of the same power-up carries both a good time and the run time: the two tell when it powered up. Only what is not
 * classified yet moves; the rest stays as it was told, uncertain.
 * Source: the contract (`up_ms` dates the boot and mends a wrong clock later); that only a newer reading mends, and never
 * so that readings change places, is our choice.
 */
import { deriveAround } from './derive.js';
import type { ReadingFact } from './facts.js';
import type { Increment } from './rows.js';
import { doubtsOf, isBelievable } from './sample-time.js';
import { lastGoodBefore } from './segment.js';
import { diagnose, touch, type ChainState, type CoreState, type SensorState } from './state.js';
import { CLOCK_FLAGS, Class, Flag } from './words.js';

/** What a row's flags say of its time. */
const TIME_FLAGS = Flag.uncertain | Flag.noAt | Flag.stepped | CLOCK_FLAGS;

/** Dates what waits in the chain by a reading that is about to be added to it; most readings find nothing to do. */
export function mendTimes(state: CoreState, sensor: SensorState, chain: ChainState, fact: ReadingFact): void {
  const { rows } = chain;
  const last = rows[rows.length - 1];
  if (last === undefined || (last.flags & Flag.noAt) === 0 || last.upMs === null) return;
  const { at, upMs, receivedAt } = fact;
  if (at === null || upMs === null || upMs <= last.upMs || !isBelievable(state, fact)) return;
  if (at > receivedAt + sensor.plan.clockErrorMs) return;
  const powerUp = at - upMs;
  const first = findMended(state, sensor, chain, powerUp);
  if (first === rows.length) return;
  chain.upAnchor = powerUp;
  const doubts = doubtsOf(state, sensor, fact);
  for (let i = first; i < rows.length; i++) moveRow(state, sensor, chain, rows[i]!, powerUp, doubts);
  deriveAround(state, sensor, chain, chain, first, false);
  touch(state, sensor);
  const detail = `${rows.length - first} readings without a good time are dated by the run time of the device`;
  diagnose(state, sensor.key, 'clock-mended', receivedAt, detail);
}

/** Index of the first row that moves; the number of rows: none does. */
function findMended(state: CoreState, sensor: SensorState, chain: ChainState, powerUp: number): number {
  const { rows } = chain;
  const oldest = state.now - state.plan.reviseHorizonMs;
  let first = rows.length;
  let after = Infinity;
  while (first > 0) {
    const row = rows[first - 1]!;
    const isOpen = row.class === Class.pending || row.class === Class.none;
    if (!isOpen || (row.flags & Flag.noAt) === 0 || row.upMs === null || row.upMs >= after) break;
    // no reading arrives before it was taken: one that would have is of the time before a restart
    const to = powerUp + row.upMs;
    if (to > row.to + sensor.plan.clockErrorMs || to < oldest) break;
    after = row.upMs;
    first -= 1;
  }
  while (first > 0 && first < rows.length && powerUp + rows[first]!.upMs! <= rows[first - 1]!.to) first += 1;
  return chain.startsChain || lastGoodBefore(rows, first) !== null ? first : rows.length;
}

/** Gives a row its new time: what is stored under the old one goes, and its segment begins or ends there. */
function moveRow(
  state: CoreState,
  sensor: SensorState,
  chain: ChainState,
  row: Increment,
  powerUp: number,
  doubts: number,
): void {
  const { out } = state;
  const { sensor: key, to: before, seq } = row;
  const to = powerUp + row.upMs!;
  const waits = sensor.pending.indexOf(row);
  if (waits >= 0) sensor.pending.splice(waits, 1);
  if (row.stored) out.removedIncrements.push({ sensor: key, to: before, chain: chain.id, seq });
  row.stored = false;
  for (const segment of chain.segments) {
    const { startTo, startSeq, lastTo, lastSeq } = segment;
    const starts = startTo === before && startSeq === (seq ?? -1);
    const ends = lastTo === before && lastSeq === (seq ?? -1);
    if (starts) {
      out.removedSegments.push({ sensor: key, chain: chain.id, startTo, startSeq });
      segment.startTo = to;
    }
    if (ends) segment.lastTo = to;
    if (starts || ends) out.segments.push(segment);
  }
  row.to = to;
  // no increment begins here: it is derived anew, whatever it was
  row.from = NaN;
  row.flags = (row.flags & ~TIME_FLAGS) | doubts;
}
