/** Every record that an alarm can come to, found by trying every input in every state. */
import { newAlarm } from '../../src/core/alarm.js';
import type { AlarmInput } from '../../src/core/alarm-inputs.js';
import type { AlarmRecord, Evidence } from '../../src/core/alarm-rows.js';
import { moveAlarm, type Move } from '../../src/core/alarm-table.js';

export const NOW = 1_700_000_000_000;
export const HOUR_MS = 3_600_000;

function evidence(says: string): Evidence {
  return {
    ...{ from: NOW - HOUR_MS, to: NOW, pulses: 900, exposureMs: HOUR_MS, ratePerMin: 15, lowerPerMin: 14 },
    ...{ upperPerMin: 16, dispersion: 1, confidence: 0.95, setpointPerMin: 10, deadbandPerMin: 1 },
    ...{ onDelayMs: 0, offDelayMs: 0, strip: [], configuration: 'test', says },
  };
}

const by = { at: NOW, who: 'M. Reed', note: 'why' };
const shelf = {
  ...by,
  kind: 'shelve',
  until: NOW + HOUR_MS,
  once: false,
  latest: NOW + 24 * HOUR_MS,
} as const;

/** One of each that differs in what it may do. */
export const INPUTS: readonly AlarmInput[] = [
  { kind: 'raise', at: NOW, evidence: evidence('too many'), latching: false },
  { kind: 'raise', at: NOW, evidence: evidence('too many'), latching: true },
  { kind: 'raise', at: NOW, evidence: evidence('too many for a while'), latching: false, over: true },
  { kind: 'return', at: NOW, evidence: evidence('few again') },
  { kind: 'acknowledge', ...by },
  { kind: 'confirm', ...by },
  { kind: 'reset', ...by },
  shelf,
  { ...shelf, once: true },
  { ...shelf, until: shelf.latest },
  { ...shelf, until: shelf.latest + 1 },
  { ...shelf, until: NOW },
  { kind: 'unshelve', ...by },
  { kind: 'expire', at: NOW },
  { kind: 'take-out-of-service', ...by },
  { kind: 'return-to-service', ...by },
  { kind: 'suppress', at: NOW, rule: 'its motor is in commissioning' },
  { kind: 'unsuppress', at: NOW },
  { kind: 'hold', at: NOW, by: 'standing' },
  { kind: 'unhold', at: NOW },
  { kind: 'group', at: NOW, under: 'zone-hall.zone-silent' },
  { kind: 'ungroup', at: NOW },
];

export function quietAlarm(kind: string): AlarmRecord {
  const id = { id: `pump.de-${kind}`, motor: 'pump', alarm: `de-${kind}`, sensor: 'pump/de' };
  return newAlarm({ ...id, kind, priority: 'low' });
}

export interface Tried {
  readonly before: AlarmRecord;
  readonly input: AlarmInput;
  readonly move: Move;
}

/** Records that differ in no field that a transition looks at or shows are one. */
function keyOf(record: AlarmRecord): string {
  return JSON.stringify({ ...record, note: '', evidence: null });
}

/** Every input in every record that can be reached, and those records. */
export function tryEverything(kind: string): { records: AlarmRecord[]; tried: Tried[] } {
  const first = quietAlarm(kind);
  const records = new Map([[keyOf(first), first]]);
  const tried: Tried[] = [];
  const open = [first];
  for (let before = open.pop(); before !== undefined; before = open.pop()) {
    for (const input of INPUTS) {
      const move = moveAlarm(Object.freeze(before), input, NOW);
      tried.push({ before, input, move });
      if (move.refusal !== null || records.has(keyOf(move.after))) continue;
      records.set(keyOf(move.after), move.after);
      open.push(move.after);
    }
  }
  return { records: [...records.values()], tried };
}
