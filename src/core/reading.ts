/**
 * A reading's way in: its chain (one counter: device and boot), the watch on the device's clock, its place.
 */
import type { ReadingFact } from './facts.js';
import { OPEN_REACH_MS, reachesOpenHour } from './checkpoint.js';
import { addNext } from './next-reading.js';
import { addReading } from './order.js';
import { watchClock } from './clock-watch.js';
import { findChain } from './same-counter.js';
import { diagnose, touch, type ChainState, type CoreState, type SensorState } from './state.js';

function openChain(state: CoreState, sensor: SensorState, fact: ReadingFact, bySeq: boolean): ChainState {
  const chain: ChainState = {
    id: state.nextChain++,
    device: fact.device,
    boot: fact.boot,
    bySeq,
    rows: [],
    startsChain: true,
    endsChain: true,
    segments: [],
    upAnchor: null,
    waiting: [],
  };
  sensor.chains.push(chain);
  state.out.chains.push({ id: chain.id, sensor: sensor.key, device: chain.device, boot: chain.boot });
  return chain;
}

/** Whether a reading of a life that is not known is older than one that is; a higher boot number is a later life, whatever its clock. */
function isOfThePast(sensor: SensorState, { device, boot }: ReadingFact): boolean {
  return sensor.chains.some(
    (chain) => chain.device === device && (boot === null || chain.boot === null || chain.boot > boot),
  );
}

/** A restart tells the time of arrival from the newest reading, or from the record where that is older. */
function noteArrival(state: CoreState, sensor: SensorState, receivedAt: number, newest: number): void {
  sensor.downtimeMs = 0;
  if (receivedAt > 0) sensor.online = true;
  if (receivedAt <= sensor.lastReceivedAt) return;
  sensor.lastReceivedAt = receivedAt;
  if (receivedAt - newest > sensor.plan.intervalMs) touch(state, sensor);
}

export function takeReading(state: CoreState, sensor: SensorState, fact: ReadingFact): void {
  const bySeq = fact.boot !== null && fact.seq !== null;
  watchClock(state, sensor, fact);
  const { current } = sensor;
  if (current !== null && addNext(state, sensor, current, fact)) {
    if (fact.at! >= sensor.hour.start + OPEN_REACH_MS) sensor.isLong = true;
    if (sensor.isLong) touch(state, sensor);
    noteArrival(state, sensor, fact.receivedAt, fact.at!);
    return;
  }
  let chain = findChain(state, sensor, fact, bySeq);
  if (chain === null) {
    if (fact.at !== null && fact.at < state.now - state.plan.reviseHorizonMs && isOfThePast(sensor, fact)) {
      diagnose(
        state,
        sensor.key,
        'too-late',
        fact.receivedAt,
        'a reading older than the horizon was dropped: nothing it could refine is left',
      );
      return;
    }
    chain = openChain(state, sensor, fact, bySeq);
  }
  addReading(state, sensor, chain, fact);
  const newest = chain.rows[chain.rows.length - 1];
  sensor.isLong = !reachesOpenHour(sensor);
  if (sensor.isLong) touch(state, sensor);
  if (current === null) sensor.current = chain;
  else if (
    chain !== current &&
    newest !== undefined &&
    newest.to > (current.segments[current.segments.length - 1]?.lastTo ?? 0)
  ) {
    sensor.current = chain;
  }
  noteArrival(state, sensor, fact.receivedAt, newest?.to ?? 0);
}
