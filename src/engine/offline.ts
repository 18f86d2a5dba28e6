/**
 * What people enter into a store that no gateway runs on: opened, locked, changed through the same core and transaction,
 * closed. The lock of the store keeps two writers apart; whoever comes second is told.
 */
import type { ActAnswer, JournalEntry } from '../core/alarm-rows.js';
import type { Fact } from '../core/facts.js';
import type { Outputs } from '../core/rows.js';
import { runAlarmCall, type AlarmCall } from './alarm-calls.js';
import { Clock, SYSTEM_CLOCK } from './clock.js';
import { CORE } from './engine-core.js';
import { readEngineRecord } from './engine-record.js';
import {
  runMaintenanceCall,
  type EntryContext,
  type EntryResult,
  type MaintenanceCall,
} from './maintenance-calls.js';
import type { EngineSettings } from './protocol.js';
import { openEngineStore } from './store-adapter.js';
import { commitBatch } from './transaction.js';

/** Throws StoreError when another writes there, and an error with a hint when this machine's clock lies before the store. */
export function enterOffline(settings: EngineSettings, call: MaintenanceCall): EntryResult {
  return runOffline(settings, (context) => runMaintenanceCall(call, context));
}

/** The same for acts on alarms. */
export function operateOffline(settings: EngineSettings, call: AlarmCall): ActAnswer[] {
  return runOffline(settings, (context) => runAlarmCall(call, context));
}

function runOffline<T>(settings: EngineSettings, run: (context: EntryContext) => T): T {
  const { plan } = settings;
  const store = openEngineStore(settings);
  try {
    const restored = store.restore(plan, CORE.restoreReachMs);
    const clock = new Clock(SYSTEM_CLOCK);
    const fault = clock.findFault(readEngineRecord(restored.checkpoints)?.tick ?? 0);
    if (fault !== null)
      throw Object.assign(new Error(fault), { code: 'clock-wrong', hint: 'Set the clock of this machine.' });
    const state = CORE.open(plan, restored);
    const commit = (facts: Fact[], journal: JournalEntry[], watch: (out: Outputs) => void = ignore): void => {
      const batch = { facts, rejections: [], checkpoints: [], journal };
      commitBatch(CORE, store, plan, state, batch, watch, ignore);
    };
    return run({ now: () => clock.now(), plan: () => plan, commit });
  } finally {
    store.close();
  }
}

function ignore(): void {
  // nobody else listens
}
