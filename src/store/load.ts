/** What the core goes on from at start, see `Restored`. */
import { completeAlarm } from '../core/alarm.js';
import { LOOK_BACK_MS } from '../core/bin.js';
import type { Restored } from '../core/needs.js';
import type { MotorPlan, Plan } from '../core/plan.js';
import type { AlarmRecord } from '../core/alarm-rows.js';
import { spreadsKept } from '../core/sum-rows.js';
import type { Answers } from './answers.js';
import { ACTION_COLUMNS, FINDING_COLUMNS, toAction, toFinding } from './maintenance-rows.js';
import { findNewestMinutes } from './newest-minutes.js';
import { SPREAD_COLUMNS, toSpread } from './row-shapes.js';
import type { Cells } from './statements.js';

/** Readings of each sensor that are given back however old they are. */
export const KEPT_ROWS = 80;
const DAY_MS = 86_400_000;
const END = Number.MAX_SAFE_INTEGER;

/** Rows of sensors and motors that the plan does not know stay in the store. */
export function loadRestored(answers: Answers, plan: Plan, reachMs: number): Restored {
  const { statements } = answers;
  const oldestOf = new Map<string, number>();
  const restored: Restored = {
    checkpoints: statements.all('SELECT key, version, json FROM checkpoint ORDER BY key').map(toCheckpoint),
    chains: [],
    segments: [],
    increments: {
      get: (sensor) => {
        const oldest = oldestOf.get(sensor);
        return oldest === undefined ? undefined : answers.increments(sensor, oldest, END);
      },
    },
    minutes: { before: (sensor, before, most) => findNewestMinutes(answers, sensor, before, most) },
    drives: new Map(),
    presences: new Map(),
    bursts: [],
    votes: [],
    spreads: [],
    transients: [],
    alarms: statements
      .all('SELECT json FROM alarm ORDER BY id')
      .map(([json]) => completeAlarm(JSON.parse(json as string) as AlarmRecord)),
    actions: statements
      .all(`SELECT ${ACTION_COLUMNS} FROM maintenance_action ORDER BY id`)
      .map((cells) => toAction(answers.names.text(cells[1] as number), cells)),
    findings: statements
      .all(`SELECT ${FINDING_COLUMNS} FROM finding ORDER BY id`)
      .map((cells) => toFinding(answers.names.text(cells[1] as number), cells)),
  };
  const newestOfZone = new Map<string, number>();
  for (const { key, motor } of plan.sensors.values()) {
    const newest = loadSensor(answers, plan, restored, key);
    if (newest === null) continue;
    oldestOf.set(key, Math.min(newest - reachMs, findKept(answers, key) ?? Number.MIN_SAFE_INTEGER));
    const { zone } = plan.motors.get(motor)!;
    newestOfZone.set(zone, Math.max(newestOfZone.get(zone) ?? newest, newest));
  }
  for (const motor of plan.motors.values()) loadMotor(answers, plan, restored, motor, reachMs);
  for (const [zone, newest] of newestOfZone) {
    restored.bursts.push(...answers.bursts(zone, newest - 2 * reachMs, END));
    restored.votes.push(...answers.votes(zone, newest - 2 * reachMs, END));
  }
  return restored;
}

function toCheckpoint([key, version, json]: Cells): Restored['checkpoints'][number] {
  return { key: key as string, version: version as number, json: json as string };
}

/** The time of the oldest reading that is given back however old it is; null: all are. */
function findKept({ statements, names }: Answers, sensor: string): number | null {
  return statements.value(
    `SELECT to_ms FROM increment WHERE sensor = ? ORDER BY to_ms DESC LIMIT 1 OFFSET ${KEPT_ROWS - 1}`,
    names.find(sensor),
  ) as number | null;
}

/** The time of the sensor's newest reading; null: it has none. */
function loadSensor(answers: Answers, plan: Plan, restored: Restored, sensor: string): number | null {
  const { statements } = answers;
  const { motor } = plan.sensors.get(sensor)!;
  const id = answers.names.find(sensor);
  const newest = statements.value('SELECT max(to_ms) FROM increment WHERE sensor = ?', id) as number | null;
  if (newest === null) return null;
  const oldest = newest - plan.reviseHorizonMs - DAY_MS;
  const segments = answers.segmentsOfSensor(sensor);
  const live = new Set(segments.filter((s) => s.lastTo >= oldest).map((s) => s.chain));
  restored.segments.push(...segments.filter((s) => live.has(s.chain)));
  const chains = statements.all('SELECT id, device, boot FROM chain WHERE sensor = ? ORDER BY id', id);
  for (const [chain, device, boot] of chains as [number, string, number | null][])
    if (live.has(chain)) restored.chains.push({ id: chain, sensor, device, boot });
  const spreads = statements.all(
    `SELECT ${SPREAD_COLUMNS} FROM spread JOIN name ON name.id = bin WHERE sensor = ? ORDER BY hour DESC, text DESC LIMIT ?`,
    id,
    spreadsKept(plan.dutyGroups.has(plan.motors.get(motor)!.dutyGroup)),
  );
  for (const cells of spreads.reverse()) restored.spreads.push(toSpread(sensor, cells));
  return newest;
}

function loadMotor(
  answers: Answers,
  plan: Plan,
  restored: Restored,
  { key: motor, dutyGroup }: MotorPlan,
  reachMs: number,
): void {
  const id = answers.names.find(motor);
  const newest = answers.statements.value(
    `SELECT max(at) FROM (SELECT max(at) AS at FROM drive_message WHERE motor = ?
     UNION ALL SELECT max(at) FROM drive_presence WHERE motor = ?)`,
    id,
    id,
  ) as number | null;
  if (newest === null) return;
  const lookBackMs = plan.dutyGroups.has(dutyGroup) ? LOOK_BACK_MS : 0;
  const drives = answers.drives(motor, newest - reachMs, END, lookBackMs);
  const presences = answers.presences(motor, Math.min(newest - reachMs, drives[0]?.at ?? newest), END);
  if (drives.length > 0) restored.drives.set(motor, drives);
  if (presences.length > 0) restored.presences.set(motor, presences);
}
