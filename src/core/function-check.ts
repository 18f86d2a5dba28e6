/**
 * Function checks that a person begins and ends: kept per sensor as spans of event time, so that the class of an increment
 * depends on the readings and the spans alone, whenever a reading comes. A device's own flag says the same of one reading.
 * Source: our choice, as its limits; the class is DESIGN section 4's.
 */
import { CHECKPOINT_VERSION } from './checkpoint.js';
import type { CheckSpan } from './check-span.js';
import type { CheckFact } from './facts.js';
import { entryOf } from './journal.js';
import type { CheckpointRow } from './rows.js';
import { markDirty, type CoreState, type SensorState } from './state.js';
import { sayUtc } from './utc-text.js';

/** A check that nobody ends is over after so long: what is forgotten must not hide a bearing. */
export const CHECK_MOST_MS = 600_000;
/** Spans that a sensor keeps, the newest. More of them within the time that may be revised nobody makes by hand. */
const CHECKS_MOST = 200;

/** Begun again, the one that goes on lasts longer; an end where none goes on changes nothing. */
export function takeCheck(state: CoreState, sensor: SensorState, fact: CheckFact): void {
  const { act, receivedAt: at } = fact;
  const last = sensor.checks.at(-1);
  // a clock that was set back continues the newest one: spans stay in order and apart
  const open = last !== undefined && at < last.to ? last : null;
  if (act === 'end' && open === null) return;
  const from = Math.min(open?.from ?? at, at);
  const to = act === 'begin' ? at + CHECK_MOST_MS : at;
  const others = open === null ? sensor.checks : sensor.checks.slice(0, -1);
  const span = from < to ? [{ from, to }] : [];
  sensor.checks = [...others, ...span].slice(-CHECKS_MOST);
  // nothing is swept yet that reaches beyond now, unless the clock was set back or a device's clock is ahead
  markDirty(state, sensor, act === 'begin' ? from : at, Number.MAX_SAFE_INTEGER);
  state.out.checkpoints.push(checksRow(sensor));
  journal(state, sensor, fact, act === 'begin' ? to : null);
}

/** `latest`: when it is over at the latest; null: it is over now. */
function journal(
  state: CoreState,
  sensor: SensorState,
  { who, receivedAt }: CheckFact,
  latest: number | null,
): void {
  const text =
    latest === null
      ? 'function check ended'
      : `function check begun: its pulses are of class check until it is ended, at the latest until ${sayUtc(latest)}`;
  const parts = { at: receivedAt, detectedAt: receivedAt, kind: 'operator' as const, subject: sensor.key };
  const [from, to] = latest === null ? ['check', ''] : ['', 'check'];
  state.out.journal.push(entryOf({ ...parts, from, to, text, who }, state.plan.revision));
}

const keyOf = (sensor: SensorState): string => `checks:${sensor.key}`;

function checksRow(sensor: SensorState): CheckpointRow {
  const spans = sensor.checks.map(({ from, to }) => [from, to]);
  return { key: keyOf(sensor), version: CHECKPOINT_VERSION, json: JSON.stringify(spans) };
}

/** As they were kept; a sensor without a record was never checked. */
export function restoreChecks(sensor: SensorState, records: ReadonlyMap<string, CheckpointRow>): void {
  const json = records.get(keyOf(sensor))?.json;
  if (json === undefined) return;
  sensor.checks = (JSON.parse(json) as [number, number][]).map(([from, to]): CheckSpan => ({ from, to }));
}
