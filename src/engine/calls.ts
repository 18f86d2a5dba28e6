/** What a person or the main thread asks of the engine, one at a time and between two batches. */
import { entryOf } from '../core/journal.js';
import type { JournalEntry } from '../core/alarm-rows.js';
import type { Fact } from '../core/facts.js';
import type { CheckpointRow } from '../core/rows.js';
import type { Plan } from '../core/plan.js';
import { runAlarmCall } from './alarm-calls.js';
import { runMaintenanceCall, type EntryContext } from './maintenance-calls.js';
import type { Call } from './protocol.js';

/** What a call may do with the engine. Throws when the engine is halted. */
export interface CallContext extends EntryContext {
  /** goes on under another plan; on failure the old one stays and it throws */
  changePlan(plan: Plan): void;
  /** commits records of other rooms, entries of the journal, and what the core is to know of them */
  keep(records: readonly CheckpointRow[], journal: JournalEntry[], facts: Fact[]): void;
  backup(path: string): Promise<number>;
  trustClock(): void;
  stop(): void;
}

/** Of the record's frame; what is in it is its room's own, with a version of its own. */
const KEPT_VERSION = 1;

export async function runCall(call: Call, context: CallContext): Promise<unknown> {
  switch (call.do) {
    case 'operate':
      return runAlarmCall(call, context);
    case 'enter-action':
    case 'enter-finding':
    case 'withdraw':
      return runMaintenanceCall(call, context);
    case 'reload':
      context.changePlan(call.plan);
      context.commit([], [note('configuration', context, call.note)]);
      return null;
    case 'note':
      context.commit([], [note('gateway', context, call.text)]);
      return null;
    case 'keep':
      context.keep(
        call.json === null ? [] : [{ key: call.key, version: KEPT_VERSION, json: call.json }],
        [
          ...call.notes.map((text) => note('gateway', context, text)),
          ...(call.entries ?? []).map((entry) => ({ ...note('operator', context, entry.text), ...entry })),
        ],
        (call.checks ?? []).map((check) => ({ kind: 'check', ...check, receivedAt: context.now() })),
      );
      return null;
    case 'backup':
      return { bytes: await context.backup(call.path) };
    case 'trust-clock':
      context.trustClock();
      context.commit([], [note('operator', context, 'the clock is taken as right', call.who)]);
      return null;
    case 'stop':
      context.stop();
      return null;
  }
}

function note(kind: JournalEntry['kind'], context: CallContext, text: string, who = ''): JournalEntry {
  const at = context.now();
  return entryOf({ at, detectedAt: at, kind, subject: 'gateway', who, text }, context.plan().revision);
}
