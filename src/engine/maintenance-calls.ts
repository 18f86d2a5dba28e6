/**
 * A person enters an action or a finding, or takes one back: checked against the plan, handed to the core as a fact, and
 * answered with the row that became durable.
 */
import { describeFinding } from '../../shared/inspection-terms.js';
import type { ActionRequest, FindingRequest } from '../../shared/maintenance.js';
import { ACTIONS, BEARING_ENDS, BOTH_ENDS, describeAction } from '../../shared/maintenance-terms.js';
import type { Fact } from '../core/facts.js';
import type { Finding, MaintenanceAction } from '../core/maintenance-rows.js';
import { MAINTENANCE } from '../core/maintenance.js';
import type { Plan } from '../core/plan.js';
import type { JournalEntry } from '../core/alarm-rows.js';
import type { Outputs } from '../core/rows.js';

export type MaintenanceCall =
  | { readonly do: 'enter-action'; readonly motor: string; readonly entry: ActionRequest }
  | { readonly do: 'enter-finding'; readonly motor: string; readonly entry: FindingRequest }
  | {
      readonly do: 'withdraw';
      readonly of: 'action' | 'finding';
      readonly motor: string;
      readonly id: number;
      readonly by: string;
      readonly note: string;
    };

export type EntryRefusal =
  'unknown-motor' | 'unknown-place' | 'in-the-future' | 'no-such-entry' | 'withdrawn-already';

/** Answer to each of the calls above. */
export type EntryResult =
  | { readonly ok: true; readonly row: MaintenanceAction | Finding }
  | { readonly ok: false; readonly reason: EntryRefusal };

/** What these calls may do with whoever stores. `commit` throws when nothing can be stored. */
export interface EntryContext {
  now(): number;
  plan(): Plan;
  /** commits facts and entries of the journal; `watch` sees what the core made of them */
  commit(facts: Fact[], journal: JournalEntry[], watch?: (out: Outputs) => void): void;
}

export function runMaintenanceCall(call: MaintenanceCall, context: EntryContext): EntryResult {
  const now = context.now();
  const reason = call.do === 'withdraw' ? null : findRefusal(call, context.plan(), now);
  if (reason !== null) return { ok: false, reason };
  let row: MaintenanceAction | Finding | undefined;
  const said: string[] = [];
  context.commit([factOf(call, now)], [], (out) => {
    row ??= out.actions[0] ?? out.findings[0];
    for (const { subject, kind } of out.diagnostics) if (subject === MAINTENANCE) said.push(kind);
  });
  if (row !== undefined) return { ok: true, row };
  return { ok: false, reason: said.includes('withdrawn-already') ? 'withdrawn-already' : 'no-such-entry' };
}

function findRefusal(
  { motor, entry }: Exclude<MaintenanceCall, { do: 'withdraw' }>,
  plan: Plan,
  now: number,
): EntryRefusal | null {
  if (!plan.motors.has(motor)) return 'unknown-motor';
  if (entry.end !== null && !isPlaceOf(plan, motor, entry.end)) return 'unknown-place';
  if ((entry.at ?? now) > now + plan.futureToleranceMs) return 'in-the-future';
  return null;
}

/** Each motor has two bearings, whether or not a sensor sits at them; other places are those of its sensors. */
function isPlaceOf(plan: Plan, motor: string, place: string): boolean {
  return [...BEARING_ENDS, BOTH_ENDS].includes(place) || plan.sensors.has(`${motor}/${place}`);
}

function factOf(call: MaintenanceCall, now: number): Fact {
  if (call.do === 'withdraw') {
    const { of, motor, id, by, note } = call;
    return { kind: 'withdraw', of, motor, id, by, note, receivedAt: now };
  }
  if (call.do === 'enter-action') {
    const { motor, entry } = call;
    const { action, end, bearing, by, note } = entry;
    return {
      ...{ kind: 'action', motor, action, end, bearing, by, note },
      ...{ breaks: ACTIONS[action].breaks, at: entry.at ?? now },
      ...{ says: describeAction(entry), receivedAt: now },
    };
  }
  const { motor, entry } = call;
  const { end, removed, modes, signs, lubricant, by, note } = entry;
  return {
    ...{ kind: 'finding', motor, end, removed, modes, signs, lubricant, by, note },
    ...{ at: entry.at ?? now, says: describeFinding(entry), receivedAt: now },
  };
}
