/**
 * What people enter about a motor: taken, numbered, journalled. Entries are never changed or erased, only withdrawn, so
 * all of them are held: a person types few of them in a year.
 */
import { entryOf } from './journal.js';
import { followAction, followWithdrawal } from './deviation/restart.js';
import type { ActionFact, FindingFact, WithdrawFact } from './facts.js';
import type { Finding, MaintenanceAction } from './maintenance-rows.js';
import { diagnose, type CoreState } from './state.js';

/** The entries of a state, by id. */
export interface MaintenanceState {
  readonly actions: Map<number, MaintenanceAction>;
  readonly findings: Map<number, Finding>;
  nextId: number;
}

/** Subject of diagnostics about entries: one, whatever people type. */
export const MAINTENANCE = 'maintenance';

export function openMaintenance(
  actions: readonly MaintenanceAction[],
  findings: readonly Finding[],
): MaintenanceState {
  let nextId = 1;
  for (const { id } of [...actions, ...findings]) nextId = Math.max(nextId, id + 1);
  return {
    actions: new Map(actions.map((row) => [row.id, row])),
    findings: new Map(findings.map((row) => [row.id, row])),
    nextId,
  };
}

export function takeAction(state: CoreState, fact: ActionFact): void {
  const { motor, action, end, bearing, breaks, at, by, note } = fact;
  const id = state.maintenance.nextId++;
  const row: MaintenanceAction = {
    ...{ id, motor, action, end, bearing, breaks, at, by, note },
    ...{ enteredAt: fact.receivedAt, withdrawn: null },
  };
  state.maintenance.actions.set(id, row);
  putAction(state, row);
  journal(state, motor, fact, { at, from: '', to: action, text: fact.says });
}

export function takeFinding(state: CoreState, fact: FindingFact): void {
  const { motor, end, removed, modes, signs, lubricant, at, by, note } = fact;
  const id = state.maintenance.nextId++;
  const row: Finding = {
    ...{ id, motor, end, removed, modes, signs, lubricant, at, by, note },
    ...{ enteredAt: fact.receivedAt, withdrawn: null },
  };
  state.maintenance.findings.set(id, row);
  state.out.findings.push(row);
  journal(state, `${motor}/${end}`, fact, { at, from: '', to: 'finding', text: fact.says });
}

/** Marks an entry. One that is not there, or is withdrawn already, changes nothing and is a diagnostic. */
export function takeWithdrawal(state: CoreState, fact: WithdrawFact): void {
  const { actions, findings } = state.maintenance;
  const row = (fact.of === 'action' ? actions : findings).get(fact.id);
  const { by, note, receivedAt } = fact;
  if (row === undefined || row.motor !== fact.motor) {
    diagnose(state, MAINTENANCE, 'no-such-entry', receivedAt, `${by} withdrew an entry that is not there`);
    return;
  }
  if (row.withdrawn !== null) {
    const detail = `${by} withdrew what ${row.withdrawn.by} had withdrawn`;
    diagnose(state, MAINTENANCE, 'withdrawn-already', receivedAt, detail);
    return;
  }
  row.withdrawn = { at: receivedAt, by, note };
  const what = 'action' in row ? row.action : 'finding';
  if ('action' in row) putAction(state, row);
  else state.out.findings.push(row);
  journal(state, row.motor, fact, {
    at: receivedAt,
    from: what,
    to: 'withdrawn',
    text: `entry ${row.id}: ${note}`,
  });
}

/**
 * Every action passes here, when it is entered and when it is withdrawn: the one place for what an action changes in the
 * counting from then on. `row.at` may lie in the past; `row.withdrawn` tells which way it goes.
 */
function putAction(state: CoreState, row: MaintenanceAction): void {
  state.out.actions.push(row);
  if (row.withdrawn === null) followAction(state, row);
  else followWithdrawal(state, row);
}

function journal(
  state: CoreState,
  subject: string,
  fact: { readonly by: string; readonly receivedAt: number },
  entry: { readonly at: number; readonly from: string; readonly to: string; readonly text: string },
): void {
  const { receivedAt: detectedAt, by: who } = fact;
  const parts = { ...entry, detectedAt, kind: 'operator' as const, subject, who };
  state.out.journal.push(entryOf(parts, state.plan.revision));
}
