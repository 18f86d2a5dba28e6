/** Routes for the present state of motors and sensors. */
import { z } from 'zod';
import { writeRate } from '../../../shared/write-messages.js';
import type { MotorPlan } from '../../core/plan.js';
import type { Transient } from '../../core/rows.js';
import { motorsBody, sensorsBody } from '../bodies.js';
import { toTransientBody } from '../body-maps.js';
import type { ApiDeps, LastDrive, SensorRow } from '../deps.js';
import { findKnownTo } from '../drive-state.js';
import type { LatestRates } from '../latest-rates.js';
import { cutPage, listParameters, type ListQuery } from '../pages.js';
import { sensorParameter } from '../parameters.js';
import { describeNotFound, ProblemError } from '../problem.js';
import { defineRoute, type Route } from '../route.js';
import { formatUtc, formatUtcOrNull } from '../../../shared/time.js';

const none = z.strictObject({});

function summariseSensor(
  sensor: string,
  row: SensorRow | undefined,
  latest: LatestRates,
  deps: ApiDeps,
): Record<string, unknown> {
  const plan = deps.plan().sensors.get(sensor);
  const rate = latest.rateOf(sensor);
  return {
    sensor,
    motor: plan?.motor ?? sensor.split('/')[0] ?? '',
    position: plan?.position ?? sensor.split('/')[1] ?? '',
    device: row?.device ?? null,
    last_reading_at: formatUtcOrNull(row?.lastReadingAt ?? null),
    interval_ms: plan?.intervalMs ?? 0,
    rate: rate === null ? null : writeRate(rate),
  };
}

/** The state to show: `unknown` without a message, when the heartbeat has been missing too long, or without a reporter. */
function describeDrive(motor: MotorPlan, drive: LastDrive | undefined, now: number): Record<string, unknown> {
  const knownTo = drive === undefined ? Infinity : findKnownTo(motor, drive);
  const isStale = now > knownTo;
  const state = drive === undefined || isStale ? 'unknown' : drive.state;
  return {
    motor: motor.key,
    zone: motor.zone,
    duty_group: motor.dutyGroup,
    has_run_state: motor.hasRunState,
    run_state: state,
    modulating: state !== 'unknown' && drive?.modulating === true,
    since: formatUtcOrNull(isStale ? knownTo : (drive?.since ?? null)),
    last_message_at: formatUtcOrNull(drive?.at ?? null),
  };
}

function indexBy<T>(rows: readonly T[], keyOf: (row: T) => string): Map<string, T> {
  return new Map(rows.map((row) => [keyOf(row), row]));
}

async function listMotors(latest: LatestRates, query: ListQuery, deps: ApiDeps): Promise<unknown> {
  const [sensors, drives, transients, alarms] = await Promise.all([
    deps.reader.sensors(),
    deps.reader.drives(),
    deps.reader.lastTransients(),
    deps.reader.alarms(),
  ]);
  const sensorRows = indexBy(sensors, (row) => row.sensor);
  const driveRows = indexBy(drives, (row) => row.motor);
  const transientRows: Map<string, Transient> = indexBy(transients, (row) => row.motor);
  const plan = deps.plan();
  const now = deps.now();
  const page = cutPage([...plan.motors.values()], ({ key }) => key, query);
  return {
    site: plan.site,
    zone: deps.timeZone,
    now: formatUtc(now),
    motors: page.items.map((motor) => {
      const last = transientRows.get(motor.key);
      return {
        ...describeDrive(motor, driveRows.get(motor.key), now),
        sensors: [...plan.sensors.values()]
          .filter((sensor) => sensor.motor === motor.key)
          .map((sensor) => summariseSensor(sensor.key, sensorRows.get(sensor.key), latest, deps)),
        last_transient: last === undefined ? null : toTransientBody(last),
        open_alarms: alarms.filter((alarm) => alarm.motor === motor.key && alarm.state !== 'normal').length,
      };
    }),
    next: page.next,
  };
}

/** `latest`: the rates heard since the start, which the store does not keep. */
export function stateRoutes(latest: LatestRates): Route[] {
  return [
    defineRoute({
      method: 'GET',
      path: '/api/v1/motors',
      summary: 'Every motor with its run state, sensors, rates and last start or stop',
      query: z.strictObject(listParameters),
      params: none,
      body: null,
      response: motorsBody,
      list: 'motors',
      handle: ({ query }, deps) => listMotors(latest, query, deps),
    }),
    defineRoute({
      method: 'GET',
      path: '/api/v1/sensors',
      summary: 'Every sensor with its device, last reading and rate',
      query: z.strictObject({ sensor: sensorParameter, ...listParameters }),
      params: none,
      body: null,
      response: sensorsBody,
      list: 'sensors',
      problems: [[404, 'there is no such sensor']],
      async handle({ query }, deps) {
        const rows = indexBy(await deps.reader.sensors(), (row) => row.sensor);
        const keys = [...deps.plan().sensors.keys()].filter(
          (key) => query.sensor === undefined || key === query.sensor,
        );
        if (query.sensor !== undefined && keys.length === 0)
          throw new ProblemError(
            describeNotFound(`There is no sensor "${query.sensor}".`, 'Without a name it lists them all.'),
          );
        const page = cutPage(keys, (key) => key, query);
        return {
          now: formatUtc(deps.now()),
          sensors: page.items.map((key) => summariseSensor(key, rows.get(key), latest, deps)),
          next: page.next,
        };
      },
    }),
  ];
}
