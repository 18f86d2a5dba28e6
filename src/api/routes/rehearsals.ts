/** Routes of rehearsals: begin one, see how far it is and what it found, cancel it. */
import { z } from 'zod';
import { isTimeMs, parseRfc3339, TIME_RULE } from '../../../shared/time.js';
import { rehearsalTable } from '../csv-tables.js';
import type { ApiDeps } from '../deps.js';
import { cutPage, listParameters } from '../pages.js';
import { motorParameter } from '../parameters.js';
import { describeConflict, describeInvalid, describeNotFound, ProblemError } from '../problem.js';
import {
  candidateBody,
  rehearsalBody,
  rehearsalRequest,
  rehearsalsBody,
  settingsBody,
  CANDIDATE_CHARACTERS_MOST,
} from '../rehearsal-bodies.js';
import { toRehearsalBody, toRehearsalLine } from '../rehearsal-maps.js';
import { defineRoute, type Route } from '../route.js';

const none = z.strictObject({});
const idParameter = z.strictObject({
  id: z
    .string()
    .regex(/^\d{1,9}$/, 'expected the number of a rehearsal')
    .describe('the `id` that its beginning answered'),
});
/** A character takes four bytes at most, or six where JSON escapes it. */
const BODY_BYTES_MOST = 6 * CANDIDATE_CHARACTERS_MOST;

function readTime(name: string, given: string | number | undefined): number | null {
  if (given === undefined) return null;
  const text = String(given);
  const time = /^\d{1,15}$/.test(text) ? Number(text) : parseRfc3339(text);
  if (time !== null && isTimeMs(time)) return time;
  throw new ProblemError(
    describeInvalid([{ name, fault: `expected ${TIME_RULE}, not "${text}"` }], TIME_RULE),
  );
}

function missing(id: string): ProblemError {
  return new ProblemError(
    describeNotFound(
      `There is no rehearsal ${id}.`,
      'The newest eight are kept until the gateway stops: see /api/v1/rehearsals.',
    ),
  );
}

/** The text that is meant. Throws a problem where there is none, or the changes cannot be written into it. */
async function readCandidate(body: z.output<typeof rehearsalRequest>, deps: ApiDeps): Promise<string> {
  if (body.configuration === undefined && body.changes.length === 0) {
    const faults = [{ name: 'configuration', fault: 'neither a text nor changes are given' }];
    throw new ProblemError(
      describeInvalid(faults, 'Give the text of a file, or changes of the present one.'),
    );
  }
  const text = body.configuration ?? (await deps.rehearsals.readFile());
  if (text === null) throw unreadable();
  if (body.changes.length === 0) return text;
  const changes = body.changes.map((each) => ({
    ...{ motor: each.motor, kind: each.kind },
    ...{ setpointPerMin: each.setpoint_per_min, deadbandPerMin: each.deadband_per_min },
    ...{ onDelayMs: each.on_delay_ms, offDelayMs: each.off_delay_ms },
  }));
  const changed = await deps.rehearsals.change(text, changes);
  if (changed.ok) return changed.text;
  const faults = changed.problems.map((fault) => ({ name: 'changes', fault }));
  throw new ProblemError(describeInvalid(faults, 'GET /api/v1/rehearsals/settings lists what there is.'));
}

function unreadable(): ProblemError {
  return new ProblemError(
    describeNotFound(
      'The configuration file cannot be read.',
      'It may have been moved since the gateway started: choose it on your own machine.',
    ),
  );
}

const settings = defineRoute({
  method: 'GET',
  path: '/api/v1/rehearsals/settings',
  summary:
    'Setpoints and delays of the alarms on rates, as they are in force: what a rehearsal may change by name',
  query: z.strictObject({ motor: motorParameter, ...listParameters }),
  params: none,
  body: null,
  response: settingsBody,
  list: 'settings',
  problems: [[404, 'there is no such motor']],
  handle({ query }, deps) {
    if (query.motor !== undefined && !deps.plan().motors.has(query.motor))
      throw new ProblemError(
        describeNotFound(`There is no motor "${query.motor}".`, 'GET /api/v1/motors lists the motors.'),
      );
    const all = deps
      .plan()
      .rateAlarms.filter(({ motor }) => query.motor === undefined || motor === query.motor);
    const page = cutPage(all, ({ id }) => id, query);
    const rows = page.items.map((each) => ({
      ...{ alarm: each.id, motor: each.motor, sensor: each.sensor, kind: each.kind },
      ...{ setpoint_per_min: each.setpointPerMin, deadband_per_min: each.deadbandPerMin },
      ...{ on_delay_ms: each.onDelayMs, off_delay_ms: each.offDelayMs },
    }));
    return Promise.resolve({ settings: rows, next: page.next });
  },
});

const begin = defineRoute({
  method: 'POST',
  path: '/api/v1/rehearsals',
  summary:
    'Play the stored past again under a candidate configuration, beside the running one and the journal',
  query: none,
  params: none,
  body: rehearsalRequest,
  bodyBytesMost: BODY_BYTES_MOST,
  response: rehearsalBody,
  problems: [[409, 'another rehearsal runs']],
  async handle({ body }, deps: ApiDeps) {
    const [from, to] = [readTime('from', body.from), readTime('to', body.to)];
    if (from !== null && to !== null && from >= to)
      throw new ProblemError(
        describeInvalid([{ name: 'from', fault: 'it must lie before `to`' }], 'Swap them.'),
      );
    const text = await readCandidate(body, deps);
    const answer = await deps.rehearsals.begin({ text, from, to });
    if (answer.ok) return toRehearsalBody(answer.job);
    if (answer.reason === 'busy')
      throw new ProblemError(
        describeConflict(
          `Rehearsal ${answer.running} runs: there is one at a time.`,
          `Wait for it, or cancel it with DELETE /api/v1/rehearsals/${answer.running}.`,
        ),
      );
    const faults = answer.problems.map((fault) => ({ name: 'configuration', fault }));
    const hint =
      answer.reason === 'invalid'
        ? 'Try the file with tallypost check.'
        : 'Take the running configuration and change only alarms, alarmBudget and baseline.';
    throw new ProblemError(describeInvalid(faults, hint));
  },
});

const list = defineRoute({
  method: 'GET',
  path: '/api/v1/rehearsals',
  summary: 'The newest rehearsals, without their results',
  query: none,
  params: none,
  body: null,
  response: rehearsalsBody,
  list: 'rehearsals',
  handle: async (_input, deps) =>
    Promise.resolve({ rehearsals: deps.rehearsals.list().map(toRehearsalLine) }),
});

const candidate = defineRoute({
  method: 'GET',
  path: '/api/v1/rehearsals/candidate',
  summary: 'The configuration file as it is, to change setpoints in and rehearse',
  query: none,
  params: none,
  body: null,
  response: candidateBody,
  problems: [[404, 'the file cannot be read']],
  async handle(_input, deps) {
    const configuration = await deps.rehearsals.readFile();
    if (configuration !== null) return { configuration };
    throw unreadable();
  },
});

const read = defineRoute({
  method: 'GET',
  path: '/api/v1/rehearsals/{id}',
  summary: 'How far a rehearsal is, and what it found',
  query: none,
  params: idParameter,
  body: null,
  response: rehearsalBody,
  list: rehearsalTable,
  problems: [[404, 'no such rehearsal']],
  async handle({ params }, deps) {
    const job = await Promise.resolve(deps.rehearsals.find(params.id));
    if (job === null) throw missing(params.id);
    return toRehearsalBody(job);
  },
});

const cancel = defineRoute({
  method: 'DELETE',
  path: '/api/v1/rehearsals/{id}',
  summary: 'Cancel a rehearsal; one that has ended stays as it is',
  query: none,
  params: idParameter,
  body: null,
  response: rehearsalBody,
  problems: [[404, 'no such rehearsal']],
  async handle({ params }, deps) {
    const job = await Promise.resolve(deps.rehearsals.cancel(params.id));
    if (job === null) throw missing(params.id);
    return toRehearsalBody(job);
  },
});

export const rehearsalRoutes: readonly Route[] = [begin, list, candidate, settings, read, cancel];
