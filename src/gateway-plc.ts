/** Brings the servers for PLC and HMI together with the rest: plant, settings and news out of plan, configuration and events. */
import type { LastDrive, LiveEvent, SensorRow } from './api/deps.js';
import type { Config } from './config/config.js';
import { goodForMs, staleAfterMs } from './config/fresh.js';
import { resolveOpcuaSecrets } from './config/opcua-secrets.js';
import type { ModbusConfig, OpcuaConfig } from './config/plc.js';
import { findAdvice } from './core/alarm-advice.js';
import type { AlarmRecord } from './core/alarm-rows.js';
import type { Plan, SensorPlan } from './core/plan.js';
import { listPlanned } from './core/planned-alarm.js';
import type { DriveRow, RateNow } from './core/rows.js';
import { settleDelayMs } from './core/settle-delay.js';
import { Class } from './core/words.js';
import type { NewsBoard } from './plc/news-board.js';
import type { AlarmNews, DriveNews, News, RateNews } from './plc/news.js';
import type { ModbusSettings } from './plc/modbus-settings.js';
import type { OpcuaSettings } from './plc/opcua-settings.js';
import type { Plant, PlantAlarm, PlantSensor } from './plc/plant.js';

const MISSED_HEARTBEATS = 3;
const ZONE_KINDS = ['zone-silent', 'zone-drives-lost', 'zone-deviation'] as const;

/** `staleMs` null: from each sensor's interval. */
export function toPlant(plan: Plan, staleMs: number | null): Plant {
  const zones = [...new Set([...plan.motors.values()].map(({ zone }) => zone))];
  return {
    site: plan.site,
    motors: [...plan.motors.values()].map(({ key, zone, hasRunState, heartbeatMs }) => ({
      ...{ key, zone, hasRunState },
      knownMs: heartbeatMs === null ? null : MISSED_HEARTBEATS * heartbeatMs,
    })),
    sensors: [...plan.sensors.values()].map((sensor) => toPlantSensor(plan, sensor, staleMs)),
    alarms: [
      ...[...listPlanned(plan)].map(({ id, motor, sensor, kind, priority, action, consequence }) => ({
        ...{ id, motor, sensor, kind, priority, action, consequence },
      })),
      ...zones.flatMap((zone) => ZONE_KINDS.map((kind) => toZoneAlarm(plan, zone, kind))),
    ],
  };
}

function toPlantSensor(plan: Plan, sensor: SensorPlan, configuredMs: number | null): PlantSensor {
  const { key, motor, position, intervalMs, coupledMotors, reorderWaitMs } = sensor;
  const staleMs = staleAfterMs(intervalMs, configuredMs);
  // the state of each motor that it hears must be settled, and a reading that is missing be given up
  const waits = [motor, ...coupledMotors].map((one) => settleDelayMs(plan.gate, plan.motors.get(one)!));
  const goodMs = goodForMs(intervalMs, Math.max(reorderWaitMs, ...waits), staleMs);
  return { key, motor, position, staleMs, goodMs };
}

function toZoneAlarm(plan: Plan, zone: string, kind: string): PlantAlarm {
  const id = `zone-${zone}.${kind}`;
  const { action, consequence } = findAdvice(plan, id);
  return { id, motor: `zone-${zone}`, sensor: null, kind, priority: 'medium', action, consequence };
}

export function toModbusSettings(
  plan: Plan,
  modbus: ModbusConfig,
  slots: ReadonlyMap<string, number>,
): ModbusSettings {
  const { listen, unitId, wordOrder, positions, clientsMax, idleMs, staleMs } = modbus;
  return {
    ...{ host: listen.host, port: listen.port, unitId, wordOrder, positions, clientsMax, idleMs },
    ...{ slots: [...slots], plant: toPlant(plan, staleMs) },
  };
}

/** Throws when a password cannot be had. */
export function toOpcuaSettings(
  config: Config,
  plan: Plan,
  opcua: OpcuaConfig,
  place: { readonly dataDir: string; readonly version: string },
): { settings: OpcuaSettings; warnings: readonly string[] } {
  const { listen, security, anonymous, sessionsMax, idleMs, rangePerMin, staleMs } = opcua;
  const { users, warnings } = resolveOpcuaSecrets(config);
  const settings: OpcuaSettings = {
    ...{ host: listen.host, port: listen.port, security, anonymous, sessionsMax, idleMs, rangePerMin, users },
    ...{ ...place, plant: toPlant(plan, staleMs), shelfMaxMs: plan.shelfMaxMs },
  };
  return { settings, warnings };
}

export function toRateNews({
  sensor,
  window,
  to,
  ratePerMin,
  lowerPerMin,
  upperPerMin,
  quality,
}: RateNow): RateNews {
  return {
    ...{ sensor, at: to, ratePerMin, lowerPerMin, upperPerMin, quality },
    runningAt: window.ms[Class.running]! > 0 ? to : null,
    isCheck: window.ms[Class.check]! > 0,
  };
}

export function toDriveNews(
  { motor, state, modulating, at, since }: DriveRow,
  absentFrom: number | null,
): DriveNews {
  return { motor, state, modulating, at, since, absentFrom };
}

export function toAlarmNews(record: AlarmRecord): AlarmNews {
  const { id, motor, sensor, kind, priority, state, active, acknowledged, confirmed, latched, since, note } =
    record;
  return {
    ...{ id, motor, sensor, kind, priority, state, active, acknowledged, confirmed, latched, since, note },
    ...{ shelvedUntil: record.shelvedUntil, shelvedOnce: record.shelvedOnce },
    isSuppressed: record.suppressedBy !== null,
    isOutOfService: record.outOfService,
    isHeld: record.heldBy !== null,
    says: record.evidence?.says ?? '',
    by: record.shelvedBy || record.confirmedBy || record.acknowledgedBy,
  };
}

export function toFirstNews(
  drives: readonly LastDrive[],
  alarms: readonly AlarmRecord[],
  sensors: readonly SensorRow[],
): Pick<News, 'drives' | 'alarms' | 'heard'> {
  return {
    drives: drives.map((drive) => toDriveNews(drive, drive.absentFrom)),
    alarms: alarms.map(toAlarmNews),
    heard: sensors.flatMap(({ sensor, lastReadingAt: at }) => (at === null ? [] : [{ sensor, at }])),
  };
}

/** Puts what was told live on the board. */
export function postEvent(board: NewsBoard, event: LiveEvent): void {
  if (event.kind === 'rate') board.takeRate(toRateNews(event.rate));
  else if (event.kind === 'alarm') board.takeAlarm(toAlarmNews(event.alarm));
  else if (event.kind === 'drive') board.takeDrive(toDriveNews(event.drive, null));
  else if (event.kind === 'drive-presence' && !event.presence.online)
    board.takeAbsence(event.presence.motor, event.presence.at);
}
