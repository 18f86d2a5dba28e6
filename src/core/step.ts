/**
 * Front door of the core: facts in, rows out. Deterministic; reads no clock; does no I/O. The state is changed in place.
 *
 * The shell, in one transaction: `step(facts)`, write the outputs, then for each need in turn, answer it from what is
 * written, `step([stored])`, write again, until no need is left. One need at a time, each answer fresh. Another plan:
 * `openState(newPlan, what the store kept)` between two batches; nothing is lost, alarms keep their state.
 */
import { tick } from './agenda.js';
import { takeAct } from './alarm-acts.js';
import { announceFact, closeAnnouncing } from './announcing.js';
import { CHECKPOINT_VERSION, coreRow, hoursRow, groupRow, motorRow, sensorRow } from './checkpoint.js';
import { watchRow } from './deviation/watch-state.js';
import { addDrive, addPresence } from './drive.js';
import type { Fact } from './facts.js';
import { takeForwarding } from './forwarding.js';
import { takeCheck } from './function-check.js';
import { takeAction, takeFinding, takeWithdrawal } from './maintenance.js';
import type { Restored } from './needs.js';
import { askForNeighbours } from './neighbours.js';
import type { Plan } from './plan.js';
import { countRate } from './rate.js';
import { emptyStep, newState } from './new-state.js';
import { takeReading } from './reading.js';
import { restoreState } from './restore.js';
import type { Outputs } from './rows.js';
import type { CoreState } from './state.js';

export type { CoreState } from './state.js';
export { hasWork } from './agenda.js';
export { CHECKPOINT_VERSION, RESTORE_REACH_MS } from './checkpoint.js';

/** A state to step from: empty, or as the store kept it. */
export function openState(plan: Plan, restored: Restored | null): CoreState {
  if (restored === null) return newState(plan);
  for (const { key, version } of restored.checkpoints) {
    if (
      /^(core$|company$|alarming$|sensor:|hours:|checks:|motor:|group:|watch:)/.test(key) &&
      version !== CHECKPOINT_VERSION
    ) {
      throw new Error(
        `checkpoint ${key} has version ${version}, this program reads ${CHECKPOINT_VERSION}: use the program that wrote it`,
      );
    }
  }
  return restoreState(plan, restored);
}

/**
 * Takes facts in order and returns what is to be stored, told and asked. Readings and messages of motors that the plan
 * does not know must not come here: the shell quarantines them.
 */
export function step(_plan: Plan, state: CoreState, facts: readonly Fact[]): Outputs {
  emptyStep(state);
  const before = state.now;
  for (const fact of facts) {
    take(state, fact);
    announceFact(state, fact.kind === 'tick');
  }
  if (state.lateChains.size > 0) {
    for (const [chain, sensor] of state.lateChains) askForNeighbours(state, sensor, chain);
    state.lateChains.clear();
  }
  finish(state, before);
  return state.out;
}

function take(state: CoreState, fact: Fact): void {
  switch (fact.kind) {
    case 'reading': {
      const sensor = state.sensors.get(fact.sensor);
      if (sensor !== undefined) takeReading(state, sensor, fact);
      return;
    }
    case 'drive': {
      const motor = state.motors.get(fact.motor);
      if (motor !== undefined) addDrive(state, motor, fact);
      return;
    }
    case 'drive-presence': {
      const motor = state.motors.get(fact.motor);
      if (motor !== undefined) addPresence(state, motor, fact);
      return;
    }
    case 'sensor-presence': {
      const sensor = state.sensors.get(fact.sensor);
      if (sensor !== undefined) sensor.online = fact.online;
      return;
    }
    case 'tick':
      tick(state, fact.now);
      return;
    case 'forwarding':
      takeForwarding(state, fact);
      return;
    case 'operate':
      takeAct(state, fact);
      return;
    case 'action':
      takeAction(state, fact);
      return;
    case 'finding':
      takeFinding(state, fact);
      return;
    case 'withdraw':
      takeWithdrawal(state, fact);
      return;
    case 'check': {
      const sensor = state.sensors.get(fact.sensor);
      if (sensor !== undefined) takeCheck(state, sensor, fact);
      return;
    }
    case 'stored': {
      const then = state.waiting.get(fact.answer.need.id);
      state.waiting.delete(fact.answer.need.id);
      then?.(fact.answer);
      return;
    }
  }
}

/** What is put out once a step: rates, records of what changed, each segment and alarm in its last form. */
function finish(state: CoreState, before: number): void {
  const { out } = state;
  closeAnnouncing(state);
  for (const sensor of state.touched) {
    if (sensor.told !== null) {
      out.rates.push(countRate(sensor));
      sensor.told = null;
    }
    if (sensor.changed || sensor.isLong) out.checkpoints.push(sensorRow(sensor));
    if (sensor.hoursChanged) out.checkpoints.push(hoursRow(sensor));
    if (sensor.watchChanged) out.checkpoints.push(watchRow(sensor));
    sensor.changed = false;
    sensor.hoursChanged = false;
    sensor.watchChanged = false;
  }
  if (state.now !== before || out.chains.length > 0)
    out.checkpoints.push(coreRow(state.now, state.nextChain));
  for (const motor of state.touchedMotors) out.checkpoints.push(motorRow(motor));
  for (const group of state.touchedGroups) out.checkpoints.push(groupRow(group));
  out.segments = [...new Set(out.segments)];
  out.alarms = [...new Set(out.alarms)];
  out.votes = [...new Set(out.votes)];
}
