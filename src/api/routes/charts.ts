/** Routes for pictures: the rate over a span, what lies on the time axis beside it, and duty groups side by side. */
import { z } from 'zod';
import {
  groupSchema,
  POINTS_DEFAULT,
  POINTS_LEAST,
  POINTS_MOST,
  seriesSchema,
  SPAN_MOST_MS,
  timelineSchema,
} from '../../../shared/charts.js';
import { toGroupBody, toSeriesBody, toTimelineBody } from '../charts-maps.js';
import { groupTable, timelineTable } from '../csv-tables.js';
import type { ApiDeps } from '../deps.js';
import { toFleet } from '../fleet.js';
import {
  motorParameter,
  pageParameters,
  rangeParameters,
  sensorParameter,
  toPageQuery,
  wholeNumber,
} from '../parameters.js';
import { describeInvalid, describeNotFound, ProblemError } from '../problem.js';
import { defineRoute, type Route } from '../route.js';

const none = z.strictObject({});
const span = { from: rangeParameters.from.unwrap(), to: rangeParameters.to.unwrap() };
const points = wholeNumber('most buckets', POINTS_LEAST, POINTS_MOST, POINTS_DEFAULT);

function checkSpan(from: number, to: number): void {
  const fault =
    from >= to
      ? 'it must lie behind `from`'
      : to - from > SPAN_MOST_MS
        ? 'it lies more than a hundred years behind `from`'
        : null;
  if (fault === null) return;
  throw new ProblemError(describeInvalid([{ name: 'to', fault }], 'Give from and to, FROM before TO.'));
}

/** Throws a problem for a motor that the configuration does not know. */
function motorOf(motor: string, deps: ApiDeps) {
  const plan = deps.plan().motors.get(motor);
  if (plan !== undefined) return plan;
  throw new ProblemError(
    describeNotFound(`There is no motor "${motor}".`, 'GET /api/v1/motors lists the motors.'),
  );
}

const series = defineRoute({
  method: 'GET',
  path: '/api/v1/series',
  summary:
    'The running rate of one sensor over a span, reduced: min, mean, max, limits, and what was set aside',
  query: z.strictObject({
    ...{ sensor: sensorParameter.unwrap(), ...span, points },
    total: z.enum(['days']).optional().describe('the whole span in one figure, with limits from its days'),
  }),
  params: none,
  body: null,
  response: seriesSchema,
  list: 'points',
  problems: [[404, 'there is no such sensor']],
  async handle({ query }, deps) {
    const { sensor, from, to } = query;
    checkSpan(from, to);
    const plan = deps.plan().sensors.get(sensor);
    if (plan === undefined) {
      const hint = 'GET /api/v1/sensors lists the sensors.';
      throw new ProblemError(describeNotFound(`There is no sensor "${sensor}".`, hint));
    }
    const { hasRunState } = motorOf(plan.motor, deps);
    const found = await deps.charts.series({
      ...{ sensor, from, to, hasRunState, deadTimeS: plan.deadTimeS },
      points: query.points,
      hasTotal: query.total !== undefined,
    });
    return toSeriesBody(found, deps.plan());
  },
});

const timeline = defineRoute({
  method: 'GET',
  path: '/api/v1/timeline',
  summary:
    'Run states, starts and stops, speed and load of a motor over a span; actions, findings and alarms as marks',
  query: z.strictObject({ ...pageParameters, ...span, motor: motorParameter.unwrap(), points }),
  params: none,
  body: null,
  response: timelineSchema,
  list: timelineTable,
  problems: [[404, 'there is no such motor']],
  async handle({ query }, deps) {
    const { motor, from, to } = query;
    checkSpan(from, to);
    const { heartbeatMs, hasRunState } = motorOf(motor, deps);
    const sensors = [...deps.plan().sensors.values()].filter((sensor) => sensor.motor === motor);
    const { limit, cursor } = toPageQuery(query);
    // what is still to come has no run state, not even an unknown one
    const known = Math.max(from + 1, Math.min(to, Math.ceil(deps.now())));
    const found = await deps.charts.timeline({
      ...{ motor, from, to: known, heartbeatMs, hasRunState, limit, cursor },
      sensors: sensors.map(({ key }) => key),
      points: query.points,
    });
    return toTimelineBody({ motor, from, to, zone: deps.timeZone }, found);
  },
});

const sisters = defineRoute({
  method: 'GET',
  path: '/api/v1/sisters/{group}',
  summary:
    'A duty group side by side: every sensor in every condition bin, like with like, and the odd one out',
  query: z.strictObject(rangeParameters),
  params: z.strictObject({ group: z.string().min(1).max(80).describe('name of the duty group') }),
  body: null,
  response: groupSchema,
  list: groupTable,
  problems: [[404, 'there is no such duty group']],
  async handle({ query, params: { group } }, deps) {
    const { from = null, to = null } = query;
    if (from !== null && to !== null) checkSpan(from, to);
    const fleet = toFleet(deps.plan());
    if (!fleet.some(({ dutyGroup }) => dutyGroup === group)) {
      const hint = 'GET /api/v1/motors tells the duty group of each motor.';
      throw new ProblemError(describeNotFound(`There is no duty group "${group}".`, hint));
    }
    const sensors = [...deps.plan().sensors.values()];
    const deadTimesS = Object.fromEntries(sensors.map(({ key, deadTimeS }) => [key, deadTimeS]));
    return toGroupBody(await deps.charts.group({ fleet, group, from, to, now: deps.now(), deadTimesS }));
  },
});

export const chartRoutes: readonly Route[] = [series, timeline, sisters];
