/** Routes for the reliability engineer: comparisons, baselines, the plan list, and what could explain the counts of a motor. */
import { z } from 'zod';
import { isTimeMs, parseRfc3339 } from '../../../shared/time.js';
import type { CompareQuestion } from '../../advice/question.js';
import { answerBody, baselinesPage, dossierBody, planPage } from '../advice-bodies.js';
import { toAnswerBody, toBaselineBody, toDossierBody, toPlanBody } from '../advice-maps.js';
import type { ApiDeps } from '../deps.js';
import { toFleet } from '../fleet.js';
import { motorParameter, rangeParameters, sensorParameter } from '../parameters.js';
import { describeInvalid, describeNotFound, ProblemError } from '../problem.js';
import { cutPage, listParameters } from '../pages.js';
import { defineRoute, type Route } from '../route.js';

const none = z.strictObject({});

/** FROM..TO, each RFC 3339 or milliseconds. */
const periodParameter = z
  .string()
  .describe('FROM..TO, each RFC 3339 with an offset or milliseconds since the Unix epoch')
  .transform((text, context) => {
    const ends = text.replaceAll(' ', '+').split('..').map(readTime);
    const [from, to] = ends;
    if (ends.length === 2 && from !== null && to !== null && from! < to!) return { from: from!, to: to! };
    context.addIssue({
      code: 'custom',
      message: `expected FROM..TO with FROM before TO, such as 2026-03-01T00:00:00Z..2026-03-08T00:00:00Z, not "${text}"`,
    });
    return z.NEVER;
  })
  .optional();

function readTime(text: string): number | null {
  const time = /^\d{1,15}$/.test(text) ? Number(text) : parseRfc3339(text);
  return time !== null && isTimeMs(time) ? time : null;
}

const compareQuery = z.strictObject({
  sensor: sensorParameter.unwrap(),
  question: z
    .enum(['baseline', 'sisters', 'around', 'periods'])
    .describe('against its own baseline; its sisters; around a maintenance action; before and after'),
  ...rangeParameters,
  action: z
    .string()
    .regex(/^\d{1,9}$/, 'expected the number of a maintenance action')
    .transform(Number)
    .optional()
    .describe('of `around`: the maintenance action'),
  before: periodParameter.describe('of `periods`'),
  after: periodParameter.describe('of `periods`'),
});

/** Which parameters go with which question, so that one that has no effect is refused instead of ignored. */
const WITH: Readonly<Record<CompareQuestion['kind'], readonly string[]>> = {
  baseline: ['from', 'to'],
  sisters: ['from', 'to'],
  around: ['action'],
  periods: ['before', 'after'],
};

function toQuestion(query: z.output<typeof compareQuery>): CompareQuestion {
  const { sensor, question: kind, from = null, to = null, action, before, after } = query;
  const given = { from, to, action, before, after };
  for (const [name, value] of Object.entries(given)) {
    if (value !== null && value !== undefined && !WITH[kind].includes(name))
      throw refuse(name, `it does not go with question=${kind}`);
  }
  switch (kind) {
    case 'around':
      if (action === undefined) throw refuse('action', 'it is missing: the number of a maintenance action');
      return { kind, sensor, action };
    case 'periods':
      if (before === undefined) throw refuse('before', 'it is missing: FROM..TO');
      if (after === undefined) throw refuse('after', 'it is missing: FROM..TO');
      return { kind, sensor, before, after };
    case 'baseline':
    case 'sisters':
      if (from !== null && to !== null && from >= to) throw refuse('from', 'it must lie before `to`');
      return { kind, sensor, from, to };
  }
}

function refuse(name: string, fault: string): ProblemError {
  const hint =
    'question=baseline or sisters takes from and to; around takes action; periods takes before and after.';
  return new ProblemError(describeInvalid([{ name, fault }], hint));
}

function checkSensor(deps: ApiDeps, sensor: string): void {
  if (deps.plan().sensors.has(sensor)) return;
  throw new ProblemError(
    describeNotFound(`No sensor ${sensor} is configured.`, 'See /api/v1/sensors for those that are.'),
  );
}

const compare = defineRoute({
  method: 'GET',
  path: '/api/v1/compare',
  summary: 'How many times as often: against its own baseline, its sisters, or before and after',
  query: compareQuery,
  params: none,
  body: null,
  response: answerBody,
  problems: [[404, 'no such sensor, or no such action of its motor']],
  async handle({ query }, deps) {
    checkSensor(deps, query.sensor);
    const question = toQuestion(query);
    const answer = deps.advice.compare({ fleet: toFleet(deps.plan()), question });
    return toAnswerBody(await answer.catch(tellMissing));
  },
});

const baselines = defineRoute({
  method: 'GET',
  path: '/api/v1/baselines',
  summary: 'The yardstick of each sensor, bin by bin, or what it still lacks',
  query: z.strictObject({ sensor: sensorParameter, ...listParameters }),
  params: none,
  body: null,
  response: baselinesPage,
  list: 'baselines',
  problems: [[404, 'no such sensor']],
  async handle({ query }, deps) {
    if (query.sensor !== undefined) checkSensor(deps, query.sensor);
    const sensors = query.sensor === undefined ? [...deps.plan().sensors.keys()] : [query.sensor];
    const page = cutPage(sensors, (sensor) => sensor, query);
    const found = await deps.advice.baselines(page.items);
    return { baselines: found.map(toBaselineBody), next: page.next };
  },
});

const plan = defineRoute({
  method: 'GET',
  path: '/api/v1/plan',
  summary: 'Motors ranked for the next outage by evidence, each with its reason',
  query: z.strictObject(listParameters),
  params: none,
  body: null,
  response: planPage,
  list: 'motors',
  async handle({ query }, deps) {
    const { standing, lines } = await deps.advice.plan(toFleet(deps.plan()));
    const page = cutPage(lines, ({ motor }) => motor, query);
    return { ...toPlanBody({ standing, lines: page.items }), next: page.next };
  },
});

const dossier = defineRoute({
  method: 'GET',
  path: '/api/v1/plan/{motor}',
  summary:
    'One motor of the plan list: remedies before and after, and hypotheses with cautions. None is a diagnosis',
  query: none,
  params: z.strictObject({ motor: motorParameter.unwrap() }),
  body: null,
  response: dossierBody,
  problems: [[404, 'no such motor']],
  async handle({ params }, deps) {
    if (!deps.plan().motors.has(params.motor)) {
      const hint = 'See /api/v1/motors for those that are.';
      throw new ProblemError(describeNotFound(`No motor ${params.motor} is configured.`, hint));
    }
    return toDossierBody(await deps.advice.dossier({ fleet: toFleet(deps.plan()), motor: params.motor }));
  },
});

/** What the store does not hold is the caller's mistake, not the gateway's. */
function tellMissing(error: unknown): never {
  if (error instanceof Error && 'code' in error && error.code === 'no-such-entry') {
    const hint = 'hint' in error && typeof error.hint === 'string' ? error.hint : '';
    throw new ProblemError(describeNotFound(error.message, hint));
  }
  throw error;
}

export const adviceRoutes: readonly Route[] = [compare, baselines, plan, dossier];
