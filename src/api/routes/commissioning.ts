/** Routes of guided commissioning: begin a run at a motor, its steps, its end, and the runs that were kept. */
import { z } from 'zod';
import type { ApiDeps } from '../deps.js';
import {
  beginRunRequest,
  beginStepRequest,
  endRunRequest,
  runBody,
  runsBody,
  type RunBody,
} from '../commissioning-bodies.js';
import {
  CommissioningDesk,
  parseRun,
  RUNS_KEPT_MOST,
  type EndOfRun,
  type RunAnswer,
  type RunRefusal,
} from '../commissioning-desk.js';
import { toRunBody, toRunLine } from '../commissioning-maps.js';
import { motorParameter, pageParameters, toPageQuery } from '../parameters.js';
import {
  describeConflict,
  describeInvalid,
  describeNotFound,
  ProblemError,
  type Problem,
} from '../problem.js';
import { defineRoute, type Route } from '../route.js';

const none = z.strictObject({});
const runId = z.strictObject({
  id: z
    .string()
    .regex(/^[1-9]\d{0,8}$/, 'expected the number of a run')
    .transform(Number),
});
const noSuchRun = [404, 'there is no such run'] as const;
const notNow = [409, 'it does not apply to the run as it stands; `reason` says why in a word'] as const;
const notReady = [503, 'nothing can be stored just now; /ready says why'] as const;

const REFUSALS: Readonly<Record<RunRefusal, (what: string) => Problem>> = {
  'unknown-motor': (motor) =>
    describeNotFound(`There is no motor "${motor}".`, 'GET /api/v1/motors lists the motors.'),
  'unknown-sensor': (sensor) =>
    describeInvalid(
      [{ name: 'sensor', fault: `"${sensor}" is no sensor of this motor, or the step takes none` }],
      'Give a sensor of the motor with a check, and none with a start or a stop.',
    ),
  'no-such-run': (id) =>
    describeNotFound(
      `There is no run ${id}.`,
      `GET /api/v1/commissioning lists them; the newest ${RUNS_KEPT_MOST} are kept.`,
    ),
  'open-already': (motor) =>
    describeConflict(
      `A run at ${motor} is open already.`,
      `GET /api/v1/commissioning?motor=${motor} finds it: go on with it, or abandon it.`,
    ),
  closed: (id) => describeConflict(`Run ${id} is closed.`, 'Begin another one.'),
  'too-many-steps': (id) =>
    describeConflict(`Run ${id} has as many steps as a run can have.`, 'Finish it, and begin another one.'),
};

/** One desk for each gateway, because it takes changes one at a time. */
const desks = new WeakMap<ApiDeps, CommissioningDesk>();

function deskOf(deps: ApiDeps): CommissioningDesk {
  let desk = desks.get(deps);
  if (desk === undefined) desks.set(deps, (desk = new CommissioningDesk(deps)));
  return desk;
}

async function tell(answer: RunAnswer, what: string, deps: ApiDeps): Promise<RunBody> {
  if (!answer.ok) throw new ProblemError({ ...REFUSALS[answer.reason](what), reason: answer.reason });
  return toRunBody(answer.run, await deskOf(deps).showSteps(answer.run));
}

const list = defineRoute({
  method: 'GET',
  path: '/api/v1/commissioning',
  summary: 'Runs of guided commissioning, newest first, without their steps',
  query: z.strictObject({
    motor: motorParameter,
    limit: pageParameters.limit,
    cursor: pageParameters.cursor,
  }),
  params: none,
  body: null,
  response: runsBody,
  async handle({ query }, deps) {
    const { limit, cursor } = toPageQuery(query);
    const page = await deps.reader.keptRuns({ motor: query.motor ?? null, limit, cursor });
    return { runs: page.items.map((json) => toRunLine(parseRun(json))), next: page.next };
  },
});

const begin = defineRoute({
  method: 'POST',
  path: '/api/v1/commissioning',
  summary: 'Begin a run at a motor: start it, stop it, check each sensor',
  query: none,
  params: none,
  body: beginRunRequest,
  response: runBody,
  problems: [[404, 'there is no such motor'], notNow, notReady],
  async handle({ body: { motor, who, note } }, deps) {
    return tell(await deskOf(deps).begin(motor, who, note), motor, deps);
  },
});

const show = defineRoute({
  method: 'GET',
  path: '/api/v1/commissioning/{id}',
  summary: 'A run with its steps; the one that goes on is judged with what is stored now',
  query: none,
  params: runId,
  body: null,
  response: runBody,
  problems: [noSuchRun],
  async handle({ params: { id } }, deps) {
    const run = await deskOf(deps).find(id);
    return tell(run === null ? { ok: false, reason: 'no-such-run' } : { ok: true, run }, String(id), deps);
  },
});

const beginStep = defineRoute({
  method: 'POST',
  path: '/api/v1/commissioning/{id}/steps',
  summary:
    'Begin a step now, and end the one before it: start the motor, stop it, or make sparks near a sensor',
  query: none,
  params: runId,
  body: beginStepRequest,
  response: runBody,
  problems: [noSuchRun, notNow, notReady],
  async handle({ params: { id }, body: { who, step, sensor = null } }, deps) {
    const answer = await deskOf(deps).beginStep(id, step, sensor, who);
    return tell(answer, !answer.ok && answer.reason === 'unknown-sensor' ? (sensor ?? '') : String(id), deps);
  },
});

function defineEnd(how: EndOfRun, summary: string): Route {
  return defineRoute({
    method: 'POST',
    path: `/api/v1/commissioning/{id}/${how}`,
    summary,
    query: none,
    params: runId,
    body: endRunRequest,
    response: runBody,
    problems: [noSuchRun, notNow, notReady],
    async handle({ params: { id }, body: { who, note } }, deps) {
      return tell(await deskOf(deps).end(id, how, who, note), String(id), deps);
    },
  });
}

export const commissioningRoutes: readonly Route[] = [
  list,
  begin,
  show,
  beginStep,
  defineEnd('finish', 'End a run; its result is kept with who and when, and entered in the journal'),
  defineEnd('abandon', 'End a run without a result'),
];
