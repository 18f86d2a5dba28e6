/** Routes for notification: how it stands, and a test message over a route. */
import { z } from 'zod';
import { NAME_PATTERN, NAME_RULE } from '../../../shared/names.js';
import { formatUtc, formatUtcOrNull, utcSchema } from '../../../shared/time.js';
import type { CsvTable } from '../csv.js';
import type { NotifyChannelRow, NotifyTestRow } from '../notify-desk.js';
import { describeBusy, describeNotFound, ProblemError } from '../problem.js';
import { defineRoute, type Route } from '../route.js';

const none = z.strictObject({});
const count = z.int().min(0);

export const notifyBody = z.object({
  now: utcSchema,
  routes: z.array(
    z.object({
      route: z.string(),
      open: z.boolean().describe('whether one of its windows is open now'),
      waiting: count.describe('alarms that wait to be put into a message'),
      due_at: utcSchema.nullable().describe('when that is to be; null: nothing waits'),
      limited: z.boolean().describe('its limit of messages holds them up'),
      escalating: count.describe('unacknowledged alarms that it will escalate'),
    }),
  ),
  channels: z.array(
    z.object({
      channel: z.string().describe('email, or webhook:NAME'),
      state: z.enum(['idle', 'working', 'failing']).describe('idle: nothing was sent since the start'),
      waiting: count.describe('messages that wait to be delivered'),
      sent: count.describe('messages delivered since the start'),
      failed: count.describe('attempts that failed since the start'),
      last_success_at: utcSchema.nullable(),
      last_error_at: utcSchema.nullable(),
      last_error: z.string(),
      failing_since: utcSchema.nullable(),
      lost: count.describe('messages refused or dropped since it began to fail'),
      refused: z.array(z.string()).describe('recipients that the mail server refused the last time'),
    }),
  ),
});

/** Routes and channels one under the other, what only one of them has is empty in the rows of the other. */
const notifyTable: CsvTable = {
  row: z.object({
    ...{ what: z.enum(['route', 'channel']), name: z.string(), waiting: count },
    ...notifyBody.shape.routes.element.omit({ route: true, waiting: true }).shape,
    ...notifyBody.shape.channels.element.omit({ channel: true, waiting: true }).shape,
  }),
  rows: ({ routes, channels }: z.output<typeof notifyBody>) => [
    ...routes.map(({ route, ...rest }) => ({ what: 'route', name: route, ...rest })),
    ...channels.map(({ channel, ...rest }) => ({ what: 'channel', name: channel, ...rest })),
  ],
};

export const notifyTestBody = z.object({
  route: z.string(),
  ok: z.boolean().describe('every channel and every recipient took it'),
  channels: z.array(
    z.object({
      channel: z.string(),
      ok: z.boolean(),
      says: z.string().describe('the verdict in plain words'),
    }),
  ),
});

/** One test at a time, so that nobody floods a mail server by pressing a button. */
let isTesting = false;

export const notifyRoutes: readonly Route[] = [
  defineRoute({
    method: 'GET',
    path: '/api/v1/notify',
    summary: 'Notification: what waits on each route, and how each channel does',
    query: none,
    params: none,
    body: null,
    response: notifyBody,
    list: notifyTable,
    async handle(_input, deps) {
      const { routes, channels } = await deps.notify.status();
      return {
        now: formatUtc(deps.now()),
        routes: routes.map(({ route, isOpen, waiting, dueAt, isLimited, escalating }) => ({
          ...{ route, open: isOpen, waiting, due_at: formatUtcOrNull(dueAt) },
          ...{ limited: isLimited, escalating },
        })),
        channels: channels.map(toChannelBody),
      };
    },
  }),
  defineRoute({
    method: 'POST',
    path: '/api/v1/notify/routes/{route}/test',
    summary: 'Send a test message over a route now, and say what came of it',
    query: none,
    params: z.strictObject({ route: z.string().regex(NAME_PATTERN, `expected ${NAME_RULE}`) }),
    body: none,
    response: notifyTestBody,
    problems: [
      [404, 'there is no such route'],
      [503, 'another test is under way'],
    ],
    async handle({ params: { route } }, deps) {
      if (isTesting)
        throw new ProblemError(describeBusy('Another test is under way.', 'Wait until it is done.'));
      isTesting = true;
      try {
        const rows = await deps.notify.test(route);
        if (rows !== null) return toTestBody(route, rows);
      } finally {
        isTesting = false;
      }
      const names = (await deps.notify.status()).routes.map((one) => one.route);
      const known = names.length === 0 ? 'No route is configured.' : `There are: ${names.join(', ')}.`;
      throw new ProblemError(describeNotFound(`There is no route "${route}".`, known));
    },
  }),
];

function toChannelBody(row: NotifyChannelRow): Record<string, unknown> {
  const isIdle = row.lastSuccessAt === null && row.lastErrorAt === null;
  const isFailing =
    row.failingSince !== null || (row.lastErrorAt ?? 0) > (row.lastSuccessAt ?? Number.MIN_SAFE_INTEGER);
  return {
    channel: row.channel,
    state: isFailing && !isIdle ? 'failing' : isIdle ? 'idle' : 'working',
    ...{ waiting: row.waiting, sent: row.sent, failed: row.failed },
    last_success_at: formatUtcOrNull(row.lastSuccessAt),
    last_error_at: formatUtcOrNull(row.lastErrorAt),
    last_error: row.lastError,
    failing_since: formatUtcOrNull(row.failingSince),
    ...{ lost: row.lostMessages, refused: row.refused },
  };
}

export function toTestBody(route: string, rows: readonly NotifyTestRow[]): z.output<typeof notifyTestBody> {
  const channels = rows.map(({ channel, outcome }) => ({ channel, ...judge(outcome) }));
  return { route, ok: channels.every(({ ok }) => ok), channels };
}

function judge(outcome: NotifyTestRow['outcome']): { ok: boolean; says: string } {
  if (outcome.kind === 'never') return { ok: false, says: `refused for good: ${outcome.reason}` };
  if (outcome.kind === 'later')
    return { ok: false, says: `not delivered; an alarm would be tried again: ${outcome.reason}` };
  const bad = outcome.refused.map(({ to, reason }) => `${to} is refused: ${reason}`);
  if (outcome.later.length > 0) bad.push(`to be asked again later: ${outcome.later.join(', ')}`);
  return bad.length === 0
    ? { ok: true, says: 'taken; whether a person gets it, only that person can say' }
    : { ok: false, says: `taken in part; ${bad.join('; ')}` };
}
