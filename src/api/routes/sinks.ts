/** Routes for forwarding: how each sink stands, its ledger, and what people ask of it. */
import { z } from 'zod';
import { NAME_PATTERN, NAME_RULE } from '../../../shared/names.js';
import { formatUtc, formatUtcOrNull, timeSchema, utcSchema } from '../../../shared/time.js';
import { next } from '../bodies.js';
import type { ApiDeps } from '../deps.js';
import type { SinkLedgerTable, SinkRow } from '../forward-desk.js';
import { cutPage, listParameters } from '../pages.js';
import { describeBusy, describeInvalid, describeNotFound, ProblemError } from '../problem.js';
import { defineRoute, type Route } from '../route.js';

const none = z.strictObject({});
const count = z.int().min(0);
const params = z.strictObject({ name: z.string().regex(NAME_PATTERN, `expected ${NAME_RULE}`) });
const NOT_FOUND = [404, 'there is no such sink'] as const;
const NOT_NOW = [503, 'forwarding has not begun yet'] as const;

const sinkBody = z.object({
  name: z.string(),
  kind: z.string(),
  streams: z.array(z.string()),
  periods: z.array(z.string()),
  state: z
    .enum(['live', 'draining', 'failing', 'connecting'])
    .describe('draining: new records go at once, and a backlog behind them'),
  since: utcSchema.describe('since when its ledger is kept'),
  waiting: count.describe('new records that wait'),
  backlog: count.describe('records that come late, behind the new ones'),
  live_lag_ms: count.describe('how long the oldest new record has waited'),
  rate_per_s: z.number().min(0).describe('records a second over the last minute'),
  eta_ms: count.nullable().describe('until the backlog is drained; null: it is not being drained'),
  quarantined: count.describe('records that it refuses for good'),
  lost: count.describe('records that were given up, see the ledger'),
  taken: count.describe('records since the start of the gateway'),
  failing_since: utcSchema.nullable(),
  last_success_at: utcSchema.nullable(),
  last_error_at: utcSchema.nullable(),
  last_error: z.string(),
  backfills: z.array(
    z.object({
      id: count,
      from: utcSchema,
      to: utcSchema,
      subject: z.string().nullable(),
      after_doubt: z.boolean().describe('the sink asked for it: its receiver may have lost what it took'),
      sent: count,
      refused: count,
      asked_at: utcSchema,
      ended_at: utcSchema.nullable().describe('null: under way'),
    }),
  ),
});

export const sinksBody = z.object({ now: utcSchema, sinks: z.array(sinkBody) });

export const sinkLedgerBody = z.object({
  sink: z.string(),
  since: utcSchema,
  balanced: z
    .boolean()
    .describe('produced = delivered + superseded + pending + quarantined + expired in every line'),
  lines: z.array(
    z.object({
      stream: z.string(),
      period: z.string().nullable(),
      subject: z.string().describe('sensor, motor, or subject of an alarm or entry'),
      ...{
        produced: count,
        delivered: count,
        superseded: count,
        pending: count,
        quarantined: z.int(),
        expired: count,
      },
    }),
  ),
  losses: z.array(
    z.object({
      ...{ stream: z.string(), period: z.string().nullable(), subject: z.string(), count },
      first_start: utcSchema,
      last_start: utcSchema,
      at: utcSchema,
      reason: z.string(),
    }),
  ),
});

export const sinkLedgerPage = sinkLedgerBody.extend({ next });

export const sinkRetryBody = z.object({ sink: z.string(), records: count.describe('tried again') });
export const sinkTestBody = z.object({ sink: z.string(), ok: z.boolean(), says: z.string() });
export const sinkBackfillBody = z.object({ sink: z.string(), id: count });

const backfillRequest = z.strictObject({
  from: timeSchema,
  to: timeSchema,
  streams: z.array(z.enum(['rollups', 'transients', 'alarms', 'journal', 'manifests'])).optional(),
  periods: z.array(z.enum(['1m', '10m', '1h'])).optional(),
  subject: z.string().max(200).optional().describe('a sensor or a motor; absent: all'),
});

export const sinkRoutes: readonly Route[] = [
  defineRoute({
    ...{ method: 'GET', path: '/api/v1/sinks', summary: 'Sinks: how each of them stands' },
    ...{ query: none, params: none, body: null, response: sinksBody, list: 'sinks' },
    handle: async (_input, deps) => {
      const sinks = await deps.forward.status();
      return { now: formatUtc(deps.now()), sinks: sinks.map(toSinkBody) };
    },
  }),
  defineRoute({
    ...{
      method: 'GET',
      path: '/api/v1/sinks/{name}/ledger',
      summary: 'Delivery ledger and loss ledger of a sink',
    },
    ...{ query: z.strictObject(listParameters), params, body: null, response: sinkLedgerPage },
    ...{ list: 'lines', problems: [NOT_FOUND, NOT_NOW] },
    handle: async ({ query, params: { name } }, deps) => {
      await requireSink(name, deps);
      const body = toLedgerBody(await answerOf(deps.forward.ledger(name)));
      const page = cutPage(
        body.lines,
        ({ stream, period, subject }) => `${stream} ${period} ${subject}`,
        query,
      );
      return { ...body, lines: page.items, next: page.next };
    },
  }),
  defineRoute({
    ...{ method: 'POST', path: '/api/v1/sinks/{name}/retry', summary: 'Send what a sink refused once more' },
    ...{ query: none, params, body: none, response: sinkRetryBody, problems: [NOT_FOUND, NOT_NOW] },
    handle: async ({ params: { name } }, deps) => {
      await requireSink(name, deps);
      return { sink: name, records: await answerOf(deps.forward.retry(name)) };
    },
  }),
  defineRoute({
    ...{ method: 'POST', path: '/api/v1/sinks/{name}/test', summary: 'Send a marked test record now' },
    ...{ query: none, params, body: none, response: sinkTestBody, problems: [NOT_FOUND, NOT_NOW] },
    handle: async ({ params: { name } }, deps) => {
      await requireSink(name, deps);
      return toTestBody(name, await answerOf(deps.forward.test(name)));
    },
  }),
  defineRoute({
    ...{
      method: 'POST',
      path: '/api/v1/sinks/{name}/backfill',
      summary: 'Send a stretch again from the store',
    },
    ...{ query: none, params, body: backfillRequest, response: sinkBackfillBody },
    problems: [NOT_FOUND, NOT_NOW, [400, 'from must lie before to']],
    handle: async ({ params: { name }, body }, deps) => {
      await requireSink(name, deps);
      const { from, to } = body;
      if (from >= to)
        throw new ProblemError(
          describeInvalid(
            [{ name: 'to', fault: 'expected a time behind from' }],
            'from is part of it, to is not.',
          ),
        );
      const { streams = null, periods = null, subject = null } = body;
      return {
        sink: name,
        id: await answerOf(deps.forward.backfill(name, { from, to, streams, periods, subject })),
      };
    },
  }),
];

async function requireSink(name: string, deps: ApiDeps): Promise<void> {
  const names = (await deps.forward.status()).map((one) => one.name);
  if (names.includes(name)) return;
  const known =
    names.length === 0
      ? 'No sink is configured, or forwarding has not begun yet.'
      : `There are: ${names.join(', ')}.`;
  throw new ProblemError(describeNotFound(`There is no sink "${name}".`, known));
}

async function answerOf<T>(answer: Promise<T>): Promise<T> {
  try {
    return await answer;
  } catch (error) {
    throw new ProblemError(
      describeBusy(error instanceof Error ? error.message : String(error), 'Ask again in a moment.'),
    );
  }
}

function toSinkBody(row: SinkRow): z.output<typeof sinkBody> {
  return {
    ...{ name: row.name, kind: row.kind, streams: [...row.streams], periods: [...row.periods] },
    ...{ state: row.state, since: formatUtc(row.since), waiting: row.waitingLive, backlog: row.backlog },
    ...{ live_lag_ms: row.liveLagMs, rate_per_s: row.ratePerS, eta_ms: row.etaMs },
    ...{ quarantined: row.quarantined, lost: row.lost, taken: row.taken },
    failing_since: formatUtcOrNull(row.failingSince),
    last_success_at: formatUtcOrNull(row.lastSuccessAt),
    last_error_at: formatUtcOrNull(row.lastErrorAt),
    last_error: row.lastError,
    backfills: row.backfills.map(({ id, wish, sent, refused, askedAt, endedAt }) => ({
      ...{ id, from: formatUtc(wish.from), to: formatUtc(wish.to), subject: wish.subject, sent, refused },
      after_doubt: wish.places !== undefined,
      ...{ asked_at: formatUtc(askedAt), ended_at: formatUtcOrNull(endedAt) },
    })),
  };
}

export function toLedgerBody(ledger: SinkLedgerTable): z.output<typeof sinkLedgerBody> {
  return {
    ...{ sink: ledger.sink, since: formatUtc(ledger.since), balanced: ledger.isBalanced },
    lines: ledger.lines.map((line) => ({ ...line })),
    losses: ledger.losses.map(({ firstStart, lastStart, at, ...loss }) => ({
      ...loss,
      ...{ first_start: formatUtc(firstStart), last_start: formatUtc(lastStart), at: formatUtc(at) },
    })),
  };
}

export function toTestBody(sink: string, fault: string | null): z.output<typeof sinkTestBody> {
  const says =
    fault === null
      ? 'the receiver took the test record: a journal entry under the number 0, which no real entry has'
      : `the receiver did not take the test record: ${fault}`;
  return { sink, ok: fault === null, says };
}
