/**
 * `forwarding-behind`: a receiver outside gets what is new too late, or not at all. The core cannot see sinks; the shell
 * tells with a tick how they stand. Once it is raised it stands until the receiver takes new records in time again: that
 * nothing is known of it, as after a restart, is no return.
 */
import { alarmOf, transition } from './alarm.js';
import type { AlarmRecord, Evidence } from './alarm-rows.js';
import type { ForwardingFact, SinkStanding } from './facts.js';
import { sayAge } from './figures.js';
import type { ForwardingAlarmPlan } from './plan.js';
import type { CoreState } from './state.js';
import { sayUtc } from './utc-text.js';

const ERROR_LENGTH_MAX = 300;

/** Behind its tick, so that the state's time is now. */
export function takeForwarding(state: CoreState, { sinks }: ForwardingFact): void {
  for (const plan of state.plan.forwardingAlarms ?? []) {
    const standing = sinks.find(({ sink }) => sink === plan.sink);
    if (standing !== undefined) watchSink(state, plan, standing);
  }
}

function isBehind(plan: ForwardingAlarmPlan, { lagMs, isTaking }: SinkStanding, isRaised: boolean): boolean {
  if (!isRaised) return lagMs > plan.limitMs;
  return !isTaking || lagMs > plan.limitMs - plan.deadbandMs;
}

/** Delays run in time, as those of plain conditions do: the timer holds the tick at which the condition last changed. */
function watchSink(state: CoreState, plan: ForwardingAlarmPlan, standing: SinkStanding): void {
  const known = state.alarms.get(plan.id);
  const found = isBehind(plan, standing, known?.active === true);
  if (!found && known === undefined) return;
  const record = known ?? alarmOf(state, plan);
  if (found === record.active) {
    if (record.onMs !== 0) setTimer(state, record, 0);
    return;
  }
  if (record.onMs === 0) setTimer(state, record, state.now);
  if (state.now - record.onMs < (found ? plan.onDelayMs : plan.offDelayMs)) return;
  record.onMs = 0;
  const evidence = evidenceOf(state, plan, standing, found);
  if (found) transition(state, record, { kind: 'raise', at: state.now, evidence, latching: plan.latching });
  else transition(state, record, { kind: 'return', at: state.now, evidence });
}

/** The gateway stood for so long: nothing was forwarded in it, and no delay runs in it. */
export function skipForwardingDowntime(state: CoreState, stoodMs: number): void {
  for (const { id } of state.plan.forwardingAlarms ?? []) {
    const record = state.alarms.get(id);
    if (record !== undefined && record.onMs !== 0) setTimer(state, record, record.onMs + stoodMs);
  }
}

function setTimer(state: CoreState, record: AlarmRecord, at: number): void {
  record.onMs = at;
  state.out.alarms.push(record);
}

function evidenceOf(
  state: CoreState,
  plan: ForwardingAlarmPlan,
  standing: SinkStanding,
  isRaised: boolean,
): Evidence {
  const { onDelayMs, offDelayMs } = plan;
  const none = { ratePerMin: null, lowerPerMin: null, upperPerMin: null };
  return {
    from: state.now - (isRaised ? standing.lagMs : offDelayMs),
    ...{ to: state.now, pulses: 0, exposureMs: 0, ...none, dispersion: null, confidence: null },
    ...{ setpointPerMin: null, deadbandPerMin: null, onDelayMs, offDelayMs, strip: [] },
    configuration: state.plan.revision,
    says: isRaised ? sayRaised(state, plan, standing) : sayReturned(plan, standing),
  };
}

function sayRaised(state: CoreState, { sink }: ForwardingAlarmPlan, standing: SinkStanding): string {
  const { lagMs, waiting, lastError, losesAt } = standing;
  const since = sayUtc(state.now - lagMs);
  const why = lastError === '' ? 'it gave no reason' : `the reason it gave last: ${shorten(lastError)}`;
  const losses =
    losesAt === null
      ? 'nothing of it is about to be given up'
      : losesAt <= state.now
        ? 'the oldest of it is being given up'
        : `the oldest of it would be given up from about ${sayUtc(losesAt)} on`;
  return `sink ${sink}: new records have waited for ${sayAge(Math.round(lagMs / 1000))}, since ${since}; ${waiting} records wait; ${why}; ${losses}`;
}

function sayReturned({ sink }: ForwardingAlarmPlan, { waiting, lagMs }: SinkStanding): string {
  const behind = waiting === 0 ? 'nothing waits' : `${waiting} records wait, older ones among them`;
  return `sink ${sink}: it takes new records within ${sayAge(Math.ceil(lagMs / 1000))} again; ${behind}`;
}

function shorten(text: string): string {
  const line = text.replace(/\s+/g, ' ').trim();
  return line.length > ERROR_LENGTH_MAX ? `${line.slice(0, ERROR_LENGTH_MAX)}…` : line;
}
