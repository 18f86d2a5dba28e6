/** Routes for alarms: the list, one of them, and what people do to them. */
import { z } from 'zod';
import {
  acknowledgeManyBody,
  actBody,
  alarmCriteria,
  reasonedActBody,
  shelveBody,
} from '../../../shared/api.js';
import { ALARM_STATES } from '../../../shared/alarm-terms.js';
import { formatUtc } from '../../../shared/time.js';
import { newAlarm } from '../../core/alarm.js';
import { REFUSALS, type AlarmRefusal } from '../../core/alarm-refusals.js';
import type { AlarmRecord } from '../../core/alarm-rows.js';
import type { AlarmAct } from '../../core/facts.js';
import { findPlanned } from '../../core/planned-alarm.js';
import { filterAlarms, findStranger, findUnacknowledged, type AlarmCriteria } from '../alarm-filter.js';
import { actResultsBody, alarmBody, alarmsBody } from '../bodies.js';
import { toAlarmBody, veilPersons } from '../body-maps.js';
import type { ApiDeps } from '../deps.js';
import { cutPage, listParameters } from '../pages.js';
import {
  describeConflict,
  describeInvalid,
  describeNotFound,
  type Problem,
  ProblemError,
} from '../problem.js';
import { defineRoute, type Route } from '../route.js';

const none = z.strictObject({});
const alarmId = z.strictObject({
  id: z.string().regex(/^[a-z0-9-]{1,40}\.[a-z0-9-]{1,80}$/, 'expected <motor>.<alarm>'),
});
const unknownAlarm = [404, 'there is no such alarm'] as const;
const notReady = [503, 'nothing can be stored just now; /ready says why'] as const;

/** Those of the store, and those of the gateway itself that it cannot store. */
async function readAlarms(deps: ApiDeps): Promise<AlarmRecord[]> {
  const [kept, { ownAlarms }] = await Promise.all([deps.reader.alarms(), deps.standing()]);
  return [...kept, ...ownAlarms];
}

/** A disk that fails may be read no more than written: what the gateway says of itself is told then all the same. */
async function readWhatCanBe(
  own: readonly AlarmRecord[],
  deps: ApiDeps,
): Promise<{ found: readonly AlarmRecord[]; missing: string | null }> {
  try {
    return { found: [...(await deps.reader.alarms()), ...own], missing: null };
  } catch (error) {
    if (own.length === 0) throw error;
    deps.logFault(error, 'alarms');
    return { found: own, missing: 'the store cannot be read' };
  }
}

const listRoute = defineRoute({
  method: 'GET',
  path: '/api/v1/alarms',
  summary:
    'Alarms with their evidence: all that were ever raised or acted on, and those of the gateway itself',
  query: z.strictObject({
    ...alarmCriteria,
    ...listParameters,
    state: z
      .enum(['open', 'all', ...ALARM_STATES])
      .optional()
      .describe('open: all but normal; all unless given'),
  }),
  params: none,
  body: null,
  response: alarmsBody,
  list: 'alarms',
  async handle({ query, isWall }, deps) {
    const { ownAlarms, floodSince: since } = await deps.standing();
    const { found, missing } = await readWhatCanBe(ownAlarms, deps);
    const alarms = filterAlarms(found, query, deps.plan());
    const page = cutPage(alarms, ({ id }) => id, query);
    return {
      now: formatUtc(deps.now()),
      zone: deps.timeZone,
      flood: since === null ? null : { since: formatUtc(since) },
      missing,
      alarms: page.items
        .map((alarm) => toAlarmBody(alarm, deps.plan()))
        .map((alarm) => (isWall ? veilPersons(alarm) : alarm)),
      next: page.next,
    };
  },
});

const showRoute = defineRoute({
  method: 'GET',
  path: '/api/v1/alarms/{id}',
  summary: 'One alarm, also one that the configuration names and that was never raised',
  query: none,
  params: alarmId,
  body: null,
  response: alarmBody,
  problems: [unknownAlarm],
  async handle({ params }, deps) {
    const isIt = ({ id }: AlarmRecord): boolean => id === params.id;
    const known = (await deps.standing()).ownAlarms.find(isIt) ?? (await deps.reader.alarms()).find(isIt);
    if (known !== undefined) return toAlarmBody(known, deps.plan());
    const planned = findPlanned(deps.plan(), params.id);
    if (planned === null) throw new ProblemError(describeRefusal(params.id, 'unknown-alarm'));
    return toAlarmBody(newAlarm(planned), deps.plan());
  },
});

/** Also for the command, so that both say the same. */
export function describeRefusal(id: string, reason: AlarmRefusal): Problem {
  const [says, hint] = REFUSALS[reason];
  if (reason === 'unknown-alarm')
    return { ...describeNotFound(`There is no alarm "${id}".`, `GET /api/v1/alarms: ${hint}`), reason };
  if (reason === 'until-past' || reason === 'until-too-far')
    return { ...describeInvalid([{ name: 'until', fault: says }], hint), reason };
  return { ...describeConflict(`${id}: ${says}`, hint), reason };
}

function defineAct<B extends z.ZodObject<{ who: z.ZodType<string>; note: z.ZodType<string> }>>(
  path: string,
  summary: string,
  body: B,
  toAct: (body: z.output<B>) => AlarmAct,
): Route {
  return defineRoute({
    method: 'POST',
    need: 'operate',
    path: `/api/v1/alarms/{id}/${path}`,
    summary,
    query: none,
    params: alarmId,
    body,
    response: alarmBody,
    problems: [
      unknownAlarm,
      [409, 'it does not apply to the alarm as it stands; `reason` says why in a word'],
      notReady,
    ],
    async handle({ params: { id }, body: given }, deps) {
      const { who, note } = given as { who: string; note: string };
      const [answer] = await deps.operate({ alarms: [id], act: toAct(given), who, note });
      const { refusal, record } = answer!;
      if (refusal !== null || record === null)
        throw new ProblemError(describeRefusal(id, refusal ?? 'unknown-alarm'));
      return toAlarmBody(record, deps.plan());
    },
  });
}

/** Ids of those that wait. Throws a problem for a description that fits nothing that there is. */
async function findMeant(criteria: AlarmCriteria, deps: ApiDeps): Promise<string[]> {
  const alarmsNow = await readAlarms(deps);
  const stranger = findStranger(criteria, alarmsNow, deps.plan());
  if (stranger !== null)
    throw new ProblemError(describeInvalid([stranger], 'GET /api/v1/alarms lists them all.'));
  return findUnacknowledged(alarmsNow, criteria, deps.plan()).map(({ id }) => id);
}

const acknowledgeManyRoute = defineRoute({
  method: 'POST',
  need: 'operate',
  path: '/api/v1/alarms/acknowledge',
  summary:
    'Acknowledge every visible alarm of a description that waits for it, or those that were picked; each is answered for itself',
  query: none,
  params: none,
  body: acknowledgeManyBody,
  response: actResultsBody,
  problems: [notReady],
  async handle({ body }, deps) {
    const { who, note, alarms: picked, ...criteria } = body;
    const alarms = picked === undefined ? await findMeant(criteria, deps) : [...new Set(picked)];
    if (alarms.length === 0) return { results: [] };
    const answers = await deps.operate({ alarms, act: { do: 'acknowledge' }, who, note });
    return {
      results: answers.map(({ alarm: id, refusal, record }) => ({
        ...{ id, done: refusal === null, state: record?.state ?? null, reason: refusal ?? '' },
        says: refusal === null ? '' : REFUSALS[refusal][0],
      })),
    };
  },
});

export const alarmRoutes: readonly Route[] = [
  listRoute,
  acknowledgeManyRoute,
  showRoute,
  defineAct(
    'acknowledge',
    'Acknowledge an alarm: a person has seen it and takes care of it',
    actBody,
    () => ({
      do: 'acknowledge',
    }),
  ),
  defineAct('confirm', 'Confirm an acknowledged alarm: the corrective action was taken', actBody, () => ({
    do: 'confirm',
  })),
  defineAct('reset', 'Reset a latched alarm that has returned and was acknowledged', actBody, () => ({
    do: 'reset',
  })),
  defineAct('shelve', 'Hide an alarm for a while; it goes on underneath', shelveBody, ({ until, once }) => ({
    ...{ do: 'shelve', until, once },
  })),
  defineAct('unshelve', 'End the shelf of an alarm', actBody, () => ({ do: 'unshelve' })),
  defineAct('out-of-service', 'Take an alarm out of service until it is returned', reasonedActBody, () => ({
    do: 'take-out-of-service',
  })),
  defineAct('return-to-service', 'Return an alarm to service', actBody, () => ({ do: 'return-to-service' })),
];
