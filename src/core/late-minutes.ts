/**
 * Minutes that late readings bring. A backlog raises what punctual readings would have raised, at its own times: minutes that
 * were empty when later ones were judged are judged once they are filled, with all that followed.
 * Source: DESIGN appendix, "later revisions re-evaluate and journal".
 */
import type { AlarmRecord } from './alarm-rows.js';
import { evaluateRateAlarms } from './condition.js';
import { evaluateExcess } from './deviation/excess.js';
import type { CoreState, SensorState } from './state.js';

/** Judges, in order, what no alarm has seen. */
export function evaluateLateMinutes(state: CoreState, sensor: SensorState): void {
  const { refilledFrom } = sensor;
  sensor.refilledFrom = null;
  if (refilledFrom !== null) rejudge(state, sensor, refilledFrom);
  judgeFrom(sensor, sensor.evaluatedTo + 1, Infinity, () => {
    evaluateRateAlarms(state, sensor);
    evaluateExcess(state, sensor);
  });
}

/** Calls `judge` after each minute from `from` to `to`, both included, as if it were the newest, with what it had behind it. */
function judgeFrom(sensor: SensorState, from: number, to: number, judge: () => void): void {
  const all = sensor.minutes;
  for (let i = all.findIndex(({ start }) => start >= from); i >= 0 && i < all.length; i++) {
    if (all[i]!.start > to) break;
    sensor.minutes = all.slice(Math.max(0, i + 1 - sensor.minutesKept), i + 1);
    judge();
  }
  sensor.minutes = all;
}

/**
 * Only alarms that were neither raised nor returned since: what they did is in the journal, and would be entered twice. Their
 * delays begin anew with the first minute filled.
 */
function rejudge(state: CoreState, sensor: SensorState, from: number): void {
  const isUntouched = ({ id }: { readonly id: string }): boolean =>
    (state.alarms.get(id)?.since ?? -Infinity) < from;
  const rates = (state.rateAlarms.get(sensor.key) ?? []).filter(isUntouched);
  const excess = (state.deviationAlarms.get(sensor.key) ?? []).filter(
    (plan) => plan.kind === 'above-baseline' && isUntouched(plan),
  );
  for (const { id } of [...rates, ...excess]) beginAnew(state.alarms.get(id), from);
  judgeFrom(sensor, from, sensor.evaluatedTo, () => {
    evaluateRateAlarms(state, sensor, rates);
    evaluateExcess(state, sensor, excess);
  });
}

function beginAnew(record: AlarmRecord | undefined, from: number): void {
  if (record === undefined) return;
  record.onMs = 0;
  record.offMs = 0;
  record.returnFrom = record.active ? from : null;
  record.returnPulses = 0;
  record.returnMs = 0;
  if (record.active) record.returnBlocks = [];
}
