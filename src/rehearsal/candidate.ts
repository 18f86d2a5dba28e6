/**
 * What a candidate configuration changes, and whether the past can answer for it. Counts were gated, binned and summed once, under
 * the configuration of their day: what would have counted otherwise is not in the store.
 */
import type { Plan } from '../core/plan.js';
import { plannedAlarms } from './kinds.js';

/** One setting of one alarm that differs; JSON of its values, null: it is not there. */
export interface SettingChange {
  readonly name: string;
  readonly running: string | null;
  readonly candidate: string | null;
}

export interface AlarmChange {
  readonly id: string;
  readonly what: 'changed' | 'added' | 'removed';
  readonly settings: readonly SettingChange[];
}

export interface CandidateJudgement {
  /** why it cannot be rehearsed, one sentence each; none: it can */
  readonly refusals: readonly string[];
  /** alarms that differ, in order of their ids */
  readonly changes: readonly AlarmChange[];
  /** changes of what all baselines share */
  readonly baseline: readonly SettingChange[];
  /** motors and sensors that only one of the two knows */
  readonly notes: readonly string[];
}

/** Texts that explain an alarm and never decide on it. */
const WORDS = new Set(['consequence', 'action', 'rationale']);

export function judgeCandidate(running: Plan, candidate: Plan): CandidateJudgement {
  const alarms = compareAlarms(running, candidate);
  return {
    refusals: findRefusals(running, candidate),
    changes: alarms,
    baseline: compareSettings(running.baseline, candidate.baseline),
    notes: [
      ...compareNames('motor', running.motors, candidate.motors),
      ...compareNames('sensor', running.sensors, candidate.sensors),
    ],
  };
}

function findRefusals(running: Plan, candidate: Plan): string[] {
  const refusals: string[] = [];
  const refuse = (where: string, changes: readonly SettingChange[]): void => {
    for (const { name, running: was, candidate: is } of changes) {
      refusals.push(
        `${where}${name} would be ${is ?? 'absent'} instead of ${was ?? 'absent'}: the stored counts were gated and summed as it ran. ` +
          'Only alarms, alarmBudget and baseline can be rehearsed; set it back for the rehearsal',
      );
    }
  };
  if (running.site !== candidate.site)
    refuse('', compareSettings({ site: running.site }, { site: candidate.site }));
  refuse('gate.', compareSettings(running.gate, candidate.gate));
  refuse('common.', compareSettings(running.common, candidate.common));
  const lateness = ({ reviseHorizonMs, futureToleranceMs }: Plan) => ({ reviseHorizonMs, futureToleranceMs });
  refuse('core.', compareSettings(lateness(running), lateness(candidate)));
  for (const [key, motor] of running.motors) {
    const other = candidate.motors.get(key);
    // commissioning hides alarms and decides on none
    if (other !== undefined)
      refuse(
        `motor ${key}: `,
        compareSettings(motor, other).filter(({ name }) => name !== 'commissioning'),
      );
  }
  for (const [key, sensor] of running.sensors) {
    const other = candidate.sensors.get(key);
    if (other !== undefined) refuse(`sensor ${key}: `, compareSettings(sensor, other));
  }
  for (const key of new Set([...running.dutyGroups.keys(), ...candidate.dutyGroups.keys()]))
    refuse(
      `duty group ${key}: `,
      compareSettings(running.dutyGroups.get(key) ?? {}, candidate.dutyGroups.get(key) ?? {}),
    );
  return refusals;
}

function compareAlarms(running: Plan, candidate: Plan): AlarmChange[] {
  const [old, fresh] = [plannedAlarms(running), plannedAlarms(candidate)];
  const ids = [...new Set([...old.keys(), ...fresh.keys()])].sort();
  return ids.flatMap((id): AlarmChange[] => {
    const [was, is] = [old.get(id), fresh.get(id)];
    if (was === undefined) return [{ id, what: 'added', settings: [] }];
    if (is === undefined) return [{ id, what: 'removed', settings: [] }];
    const settings = compareSettings(was.settings, is.settings).filter(({ name }) => !WORDS.has(name));
    return settings.length === 0 ? [] : [{ id, what: 'changed', settings }];
  });
}

function compareSettings(running: object, candidate: object): SettingChange[] {
  const [old, fresh] = [new Map(Object.entries(running)), new Map(Object.entries(candidate))];
  const text = (from: Map<string, unknown>, name: string): string | null =>
    from.get(name) === undefined ? null : JSON.stringify(from.get(name));
  return [...new Set([...old.keys(), ...fresh.keys()])].sort().flatMap((name) => {
    const change = { name, running: text(old, name), candidate: text(fresh, name) };
    return change.running === change.candidate ? [] : [change];
  });
}

function compareNames(
  what: string,
  running: ReadonlyMap<string, unknown>,
  candidate: ReadonlyMap<string, unknown>,
): string[] {
  const gone = [...running.keys()].filter((key) => !candidate.has(key));
  const come = [...candidate.keys()].filter((key) => !running.has(key));
  return [
    ...gone.map(
      (key) =>
        `${what} ${key} is not in the candidate: its history is played for the running configuration only`,
    ),
    ...come.map(
      (key) =>
        `${what} ${key} is not in the running configuration: what is stored under that name, if anything, is played; a renamed ${what} takes no history along`,
    ),
  ];
}
