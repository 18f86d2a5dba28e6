/** Routes for whoever wires a plant: how far the messages of each sensor come, and who else sends. */
import { z } from 'zod';
import { formatUtc, formatUtcOrNull } from '../../../shared/time.js';
import type { Link } from '../../advice/wiring-trace.js';
import type { ApiDeps } from '../deps.js';
import { motorParameter, pageParameters, readPlace, toPageQuery, writePlace } from '../parameters.js';
import { describeNotFound, ProblemError } from '../problem.js';
import { defineRoute, type Route } from '../route.js';
import { listStrangers } from '../strangers.js';
import { strangersBody, wiringBody } from '../wiring-bodies.js';
import { reportWiring } from '../wiring-report.js';

const none = z.strictObject({});

function toLinkBody({ link, state, at, faultAt, fault, says, todo }: Link): Record<string, unknown> {
  return { link, state, at: formatUtcOrNull(at), fault_at: formatUtcOrNull(faultAt), fault, says, todo };
}

/** The sensors behind the one that the cursor names, in alphabetical order. */
function sensorsAfter(deps: ApiDeps, motor: string | null, cursor: string | null) {
  const after = readPlace(cursor);
  return [...deps.plan().sensors.values()]
    .filter((sensor) => (motor === null || sensor.motor === motor) && sensor.key > after)
    .sort((a, b) => (a.key < b.key ? -1 : 1));
}

const wiring = defineRoute({
  method: 'GET',
  path: '/api/v1/wiring',
  summary:
    'For each sensor the chain from its first message to the sinks: what holds, what does not, what to do',
  query: z.strictObject({
    motor: motorParameter,
    limit: pageParameters.limit,
    cursor: pageParameters.cursor,
  }),
  params: none,
  body: null,
  response: wiringBody,
  problems: [[404, 'there is no such motor']],
  async handle({ query }, deps) {
    const { motor = null } = query;
    if (motor !== null && !deps.plan().motors.has(motor)) {
      const hint = 'GET /api/v1/motors lists the motors.';
      throw new ProblemError(describeNotFound(`There is no motor "${motor}".`, hint));
    }
    const { limit, cursor } = toPageQuery(query);
    const rest = sensorsAfter(deps, motor, cursor);
    const page = rest.slice(0, limit);
    const found = await reportWiring(page, deps);
    return {
      ...{ now: formatUtc(deps.now()), zone: deps.timeZone },
      sensors: found.map(({ plan, device, broken, chain }) => ({
        ...{ sensor: plan.key, motor: plan.motor, position: plan.position, device, broken },
        chain: chain.map(toLinkBody),
      })),
      next: rest.length > page.length ? writePlace(page.at(-1)!.key) : null,
    };
  },
});

const strangers = defineRoute({
  method: 'GET',
  path: '/api/v1/strangers',
  summary:
    'Failed logins, publishes and subscriptions that were denied with the rule, and unknown senders; newest first',
  query: z.strictObject({ limit: pageParameters.limit, cursor: pageParameters.cursor }),
  params: none,
  body: null,
  response: strangersBody,
  async handle({ query }, deps) {
    const { limit, cursor } = toPageQuery(query);
    const from = Number(readPlace(cursor) === '' ? 0 : readPlace(cursor));
    const all = await listStrangers(deps);
    const page = all.slice(from, from + limit);
    return {
      now: formatUtc(deps.now()),
      strangers: page.map(({ firstAt, lastAt, ...each }) => ({
        ...{ ...each, first_at: formatUtc(firstAt), last_at: formatUtc(lastAt) },
      })),
      next: all.length > from + page.length ? writePlace(String(from + page.length)) : null,
    };
  },
});

export const wiringRoutes: readonly Route[] = [wiring, strangers];
