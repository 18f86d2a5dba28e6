/**
 * The ordinary reading: the next one of the sensor's counter, with a good time and a plausible count. Nearly all are, so they
 * take a way of their own, which asks nothing that cannot be and makes nothing that is thrown away. It comes to what order.ts
 * and derive.ts come to, which take the same readings when they arrive in another order.
 */
import { modulusOf, plausiblePulses } from './counter.js';
import { queue } from './derive.js';
import type { ReadingFact } from './facts.js';
import { trimChain } from './order.js';
import type { Increment } from './rows.js';
import { isBelievable } from './sample-time.js';
import { extendSegment } from './segment.js';
import { putRow, type ChainState, type CoreState, type SensorState } from './state.js';
import { Class, Flag, Reason } from './words.js';

/** A row after which a reading is none of the ordinary ones: it is judged with it, or against one before it. */
const DOUBTFUL = Flag.anchor | Flag.torn | Flag.held | Flag.rejected | Flag.check | Flag.noAt;

/** False: the reading is none of these, and nothing was done. */
export function addNext(
  state: CoreState,
  sensor: SensorState,
  chain: ChainState,
  fact: ReadingFact,
): boolean {
  const { rows } = chain;
  const last = rows[rows.length - 1];
  const { at, seq, check } = fact;
  if (last === undefined || at === null || seq === null || check || sensor.clock.off) return false;
  if (!chain.bySeq || chain.boot !== fact.boot || chain.device !== fact.device) return false;
  if (seq <= last.seq! || at <= last.to || at < chain.segments[0]!.startTo) return false;
  if ((last.flags & DOUBTFUL) !== 0) return false;
  const pulses = fact.count - last.count;
  if (!isBelievable(state, fact) || !isPlausible(sensor, last, fact, pulses)) return false;
  const row: Increment = {
    sensor: sensor.key,
    to: at,
    from: last.to,
    chain: chain.id,
    seq,
    count: fact.count,
    upMs: fact.upMs,
    pulses,
    class: Class.pending,
    reason: Reason.none,
    flags: sensor.motor.plan.hasRunState ? 0 : Flag.uncertain,
    temperature: fact.temperatureC === null ? null : Math.round(10 * fact.temperatureC),
    bin: '',
    stored: false,
    putIn: 0,
  };
  rows.push(row);
  putRow(state, row);
  extendSegment(state, chain, row);
  queue(state, sensor, row, false);
  trimChain(chain);
  return true;
}

/** Whether the counter went on from the last reading, without a wrap, within what may be. */
function isPlausible({ plan }: SensorState, last: Increment, fact: ReadingFact, pulses: number): boolean {
  const ranMs = last.upMs === null || fact.upMs === null ? 0 : fact.upMs - last.upMs;
  const elapsedMs = ranMs > 0 ? ranMs : fact.at! - last.to;
  if (pulses < 0 || pulses > plausiblePulses(plan, elapsedMs)) return false;
  return plan.counterBits === 53 || elapsedMs < (modulusOf(plan.counterBits) / plan.maxRatePerS) * 1000;
}
