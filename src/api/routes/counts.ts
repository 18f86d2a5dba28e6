/** Routes for counts over a set time: between two marks in the past, and from now on. */
import { z } from 'zod';
import {
  COUNT_PAST_MOST_MS,
  countRequest,
  countSchema,
  liveCountSchema,
  writeCount,
  type LiveCountBody,
} from '../../../shared/counts.js';
import { formatUtc } from '../../../shared/time.js';
import type { TimedCount } from '../../core/timed-count.js';
import type { ApiDeps } from '../deps.js';
import { GOING_ON_MOST, judgeCount, type LiveCount, type LiveCounts } from '../live-counts.js';
import { rangeParameters, sensorParameter } from '../parameters.js';
import { describeBusy, describeInvalid, describeNotFound, ProblemError } from '../problem.js';
import { defineRoute, type Route } from '../route.js';

const none = z.strictObject({});
const countParameters = {
  sensor: sensorParameter.unwrap(),
  from: rangeParameters.from.unwrap(),
  to: rangeParameters.to.unwrap(),
};

/** Throws a problem for a sensor that the configuration does not know. */
function readCount(sensor: string, from: number, to: number, deps: ApiDeps): Promise<TimedCount> {
  const { motor, deadTimeS } = planOf(sensor, deps);
  const { hasRunState, heartbeatMs } = deps.plan().motors.get(motor)!;
  return deps.reader.count({ sensor, from, to, hasRunState, heartbeatMs, deadTimeS });
}

function planOf(sensor: string, deps: ApiDeps) {
  const plan = deps.plan().sensors.get(sensor);
  if (plan !== undefined) return plan;
  throw new ProblemError(
    describeNotFound(`There is no sensor "${sensor}".`, 'GET /api/v1/sensors lists the sensors.'),
  );
}

function refuseRange(name: string, fault: string): ProblemError {
  return new ProblemError(describeInvalid([{ name, fault }], 'Give from and to, at most 7 days apart.'));
}

const past = defineRoute({
  method: 'GET',
  path: '/api/v1/counts',
  summary:
    'Pulses of whole increments between two marks in the past, with run state and condition beside them',
  query: z.strictObject(countParameters),
  params: none,
  body: null,
  response: countSchema,
  problems: [[404, 'there is no such sensor']],
  async handle({ query: { sensor, from, to } }, deps) {
    if (from >= to) throw refuseRange('to', 'it must lie behind `from`');
    if (to - from > COUNT_PAST_MOST_MS) throw refuseRange('to', 'it lies more than 7 days behind `from`');
    return writeCount(await readCount(sensor, from, to, deps));
  },
});

async function tellCount(count: LiveCount, deps: ApiDeps): Promise<LiveCountBody> {
  const { id, sensor, from, to } = count;
  const now = deps.now();
  const isOver = now >= to;
  const found = isOver && count.result === null ? await readCount(sensor, from, to, deps) : null;
  const state = judgeCount(count, found, now);
  const result = count.result ?? (state === 'incomplete' ? found : null);
  return {
    ...{ id, sensor, from: formatUtc(from), to: formatUtc(to), state },
    progress: Math.min(1, Math.max(0, (now - from) / (to - from))),
    result: result === null ? null : writeCount(result),
  };
}

/** `counts`: those that were started since the gateway was. */
export function countRoutes(counts: LiveCounts): readonly Route[] {
  return [
    past,
    defineRoute({
      method: 'POST',
      need: 'operate',
      path: '/api/v1/counts',
      summary: 'Start a count of 10 s to 10 min from now on; answers at once with where to ask for it',
      query: none,
      params: none,
      body: countRequest,
      response: liveCountSchema,
      problems: [
        [404, 'there is no such sensor'],
        [503, `${GOING_ON_MOST} counts go on already`],
      ],
      async handle({ body }, deps) {
        planOf(body.sensor, deps);
        const count = counts.start(body.sensor, body.for_ms, deps.now());
        if (count !== null) return tellCount(count, deps);
        throw new ProblemError(
          describeBusy(`${GOING_ON_MOST} counts go on already.`, 'Wait until one of them is over.'),
        );
      },
    }),
    defineRoute({
      method: 'GET',
      path: '/api/v1/counts/{id}',
      summary: 'How far a count is that was started, and its result',
      query: none,
      params: z.strictObject({
        id: z.string().regex(/^[0-9a-z]{1,16}-\d{1,12}$/, 'expected the id of a count'),
      }),
      body: null,
      response: liveCountSchema,
      problems: [[404, 'there is no such count, or the gateway was started since']],
      async handle({ params }, deps) {
        const count = counts.find(params.id);
        if (count !== null) return tellCount(count, deps);
        throw new ProblemError(
          describeNotFound(
            `There is no count "${params.id}".`,
            'GET /api/v1/counts counts the same time again from what is stored.',
          ),
        );
      },
    }),
  ];
}
