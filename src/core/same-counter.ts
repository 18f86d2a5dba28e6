/**
 * Which chain a reading belongs to: one counter of one device and boot. A device whose boot number never changes begins
 * a new counter under the old key when it restarts; its time, run time and count tell that from a late reading.
 * Source: our choice; the contract says that a sequence that falls while time says later is a restart.
 */
import type { ReadingFact } from './facts.js';
import type { Increment } from './rows.js';
import { isBelievable } from './sample-time.js';
import type { ChainState, CoreState, SensorState } from './state.js';
import { Flag } from './words.js';

function isOf(chain: ChainState, fact: ReadingFact, bySeq: boolean): boolean {
  return chain.device === fact.device && chain.boot === fact.boot && chain.bySeq === bySeq;
}

function beginsAt(chain: ChainState): number {
  return chain.segments[0]?.startTo ?? -Infinity;
}

/** Null: none yet, the reading begins one. */
export function findChain(
  state: CoreState,
  sensor: SensorState,
  fact: ReadingFact,
  bySeq: boolean,
): ChainState | null {
  const { current } = sensor;
  const at = fact.at ?? Infinity;
  let found = current !== null && isOf(current, fact, bySeq) && at >= beginsAt(current) ? current : null;
  found ??= findInTime(sensor, fact, bySeq, at);
  if (found === null || !isRestart(state, sensor, found, fact)) return found;
  // a reading older than the one that showed the restart
  return findNext(sensor, fact, bySeq, at);
}

/** The newest chain of the key that began by `at`, else the oldest one. */
function findInTime(sensor: SensorState, fact: ReadingFact, bySeq: boolean, at: number): ChainState | null {
  let found: ChainState | null = null;
  for (const chain of sensor.chains) {
    if (!isOf(chain, fact, bySeq)) continue;
    const start = beginsAt(chain);
    const best: number = found === null ? Infinity : beginsAt(found);
    const nearer = best > at ? start < best : start <= at && start > best;
    if (found === null || nearer) found = chain;
  }
  return found;
}

/** The first chain of the key that began after `at`; null: none. */
function findNext(sensor: SensorState, fact: ReadingFact, bySeq: boolean, at: number): ChainState | null {
  let found: ChainState | null = null;
  for (const chain of sensor.chains) {
    if (!isOf(chain, fact, bySeq) || beginsAt(chain) <= at) continue;
    if (found === null || beginsAt(chain) < beginsAt(found)) found = chain;
  }
  return found;
}

/** Whether a reading that falls behind in sequence is of a later life of the device than all of the chain. */
function isRestart(state: CoreState, sensor: SensorState, chain: ChainState, fact: ReadingFact): boolean {
  const last = chain.rows[chain.rows.length - 1];
  if (!chain.bySeq || last === undefined || fact.seq! > last.seq! || fact.at === null) return false;
  if ((last.flags & Flag.noAt) !== 0 || fact.at <= last.to || !isBelievable(state, fact)) return false;
  if (fact.upMs !== null && last.upMs !== null)
    return fact.upMs < last.upMs && fact.at - fact.upMs > last.to - sensor.plan.clockErrorMs;
  return fact.count < last.count && !fitsByCount(chain.rows, fact);
}

/** Whether the count lies between those of its neighbours in sequence: then a clock stepped, and the reading is late. */
function fitsByCount(rows: readonly Increment[], fact: ReadingFact): boolean {
  for (let i = rows.length - 1; i >= 0; i--) {
    const row = rows[i]!;
    if (row.seq! > fact.seq!) continue;
    if (row.seq === fact.seq) return row.count === fact.count && row.to === fact.at;
    return fact.count >= row.count && fact.count <= rows[i + 1]!.count;
  }
  return false;
}
