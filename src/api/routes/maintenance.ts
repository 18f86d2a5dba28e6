/** Routes for what people enter about motors: maintenance actions, findings of inspections, and taking them back. */
import { z } from 'zod';
import {
  actionRequest,
  actionSchema,
  findingRequest,
  findingSchema,
  withdrawRequest,
} from '../../../shared/maintenance.js';
import { NAME_PATTERN } from '../../../shared/names.js';
import { writeAction, writeFinding } from '../../../shared/write-maintenance.js';
import type { Finding, MaintenanceAction } from '../../core/maintenance-rows.js';
import { actionsBody, findingsBody } from '../bodies.js';
import type { ApiDeps, EntryRefusal, EntryWish } from '../deps.js';
import { pageParameters, toPageQuery } from '../parameters.js';
import { describeConflict, describeInvalid, describeNotFound, ProblemError } from '../problem.js';
import { defineRoute, type Route } from '../route.js';

const none = z.strictObject({});
const motorName = z.string().regex(NAME_PATTERN, 'expected the name of a motor');
const entryId = z
  .string()
  .regex(/^[1-9]\d{0,14}$/, 'expected the number of an entry')
  .transform(Number);
const unknownMotor = [404, 'there is no such motor'] as const;

/** The row as it became durable. Throws a problem that says what to do. */
async function maintain(wish: EntryWish, deps: ApiDeps): Promise<MaintenanceAction | Finding> {
  const answer = await deps.maintain(wish);
  if (answer.ok) return answer.row;
  throw new ProblemError(describeRefusal(answer.reason, wish));
}

function describeRefusal(reason: EntryRefusal, wish: EntryWish) {
  const at = `/api/v1/motors/${wish.motor}`;
  switch (reason) {
    case 'unknown-motor':
      return describeMissingMotor(wish.motor);
    case 'unknown-place': {
      const fault = { name: 'end', fault: `${wish.motor} has no such place` };
      return describeInvalid([fault], 'Give de, nde, both, a position of its sensors, or none.');
    }
    case 'in-the-future': {
      const fault = { name: 'at', fault: 'it lies in the future' };
      return describeInvalid([fault], 'Enter what has been done, when it has been done.');
    }
    case 'no-such-entry':
      return describeNotFound(
        `${wish.motor} has no such entry.`,
        `GET ${at}/actions and ${at}/findings list them with their numbers.`,
      );
    case 'withdrawn-already':
      return describeConflict('The entry is withdrawn already.', 'Nothing need be done.');
  }
}

function describeMissingMotor(motor: string) {
  return describeNotFound(`There is no motor "${motor}".`, 'GET /api/v1/motors lists the motors.');
}

/** A motor that is in no configuration any more keeps its entries; one that never was is a mistake. */
function refuseStranger(motor: string, found: number, deps: ApiDeps): void {
  if (found === 0 && !deps.plan().motors.has(motor)) throw new ProblemError(describeMissingMotor(motor));
}

const listActions = defineRoute({
  method: 'GET',
  path: '/api/v1/motors/{id}/actions',
  summary: 'What was done to a motor, in order of time; withdrawn entries too',
  query: z.strictObject(pageParameters),
  params: z.strictObject({ id: motorName }),
  body: null,
  response: actionsBody,
  list: 'actions',
  problems: [unknownMotor],
  async handle({ query, params }, deps) {
    const page = await deps.reader.actions({ ...toPageQuery(query), motor: params.id });
    refuseStranger(params.id, page.items.length, deps);
    return { actions: page.items.map(writeAction), next: page.next };
  },
});

const addAction = defineRoute({
  method: 'POST',
  need: 'operate',
  path: '/api/v1/motors/{id}/actions',
  summary: 'Enter what was done to a motor, its drive or its sensors',
  query: none,
  params: z.strictObject({ id: motorName }),
  body: actionRequest,
  response: actionSchema,
  problems: [unknownMotor],
  async handle({ params, body }, deps) {
    const row = await maintain({ do: 'enter-action', motor: params.id, entry: body }, deps);
    return writeAction(row as MaintenanceAction);
  },
});

const listFindings = defineRoute({
  method: 'GET',
  path: '/api/v1/motors/{id}/findings',
  summary: "What inspections of a motor's bearings found, in order of time; withdrawn entries too",
  query: z.strictObject(pageParameters),
  params: z.strictObject({ id: motorName }),
  body: null,
  response: findingsBody,
  list: 'findings',
  problems: [unknownMotor],
  async handle({ query, params }, deps) {
    const page = await deps.reader.findings({ ...toPageQuery(query), motor: params.id });
    refuseStranger(params.id, page.items.length, deps);
    return { findings: page.items.map(writeFinding), next: page.next };
  },
});

const addFinding = defineRoute({
  method: 'POST',
  need: 'operate',
  path: '/api/v1/motors/{id}/findings',
  summary: 'Enter what an inspection of one bearing found',
  query: none,
  params: z.strictObject({ id: motorName }),
  body: findingRequest,
  response: findingSchema,
  problems: [unknownMotor],
  async handle({ params, body }, deps) {
    const row = await maintain({ do: 'enter-finding', motor: params.id, entry: body }, deps);
    return writeFinding(row as Finding);
  },
});

const withdrawProblems = [
  [404, 'there is no such entry'],
  [409, 'it is withdrawn already'],
] as const;

const withdrawAction = defineRoute({
  method: 'POST',
  need: 'operate',
  path: '/api/v1/motors/{id}/actions/{actionId}/withdraw',
  summary: 'Take back an action that was entered wrongly; it stays, marked with who and why',
  query: none,
  params: z.strictObject({ id: motorName, actionId: entryId }),
  body: withdrawRequest,
  response: actionSchema,
  problems: withdrawProblems,
  async handle({ params, body }, deps) {
    const wish = { do: 'withdraw', of: 'action', motor: params.id, id: params.actionId, ...body } as const;
    return writeAction((await maintain(wish, deps)) as MaintenanceAction);
  },
});

const withdrawFinding = defineRoute({
  method: 'POST',
  need: 'operate',
  path: '/api/v1/motors/{id}/findings/{findingId}/withdraw',
  summary: 'Take back a finding that was entered wrongly; it stays, marked with who and why',
  query: none,
  params: z.strictObject({ id: motorName, findingId: entryId }),
  body: withdrawRequest,
  response: findingSchema,
  problems: withdrawProblems,
  async handle({ params, body }, deps) {
    const wish = { do: 'withdraw', of: 'finding', motor: params.id, id: params.findingId, ...body } as const;
    return writeFinding((await maintain(wish, deps)) as Finding);
  },
});

export const maintenanceRoutes: readonly Route[] = [
  listActions,
  addAction,
  listFindings,
  addFinding,
  withdrawAction,
  withdrawFinding,
];
