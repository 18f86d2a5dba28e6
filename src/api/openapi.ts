/**
 * The OpenAPI document, made from the very schemas that check the requests.
 * Source: OpenAPI 3.1.0, whose schemas are JSON Schema 2020-12.
 */
import { z } from 'zod';
import { LAST_ID_PARAMETER } from '../../shared/live-terms.js';
import type { Need } from './access.js';
import { liveBody, problemBody, readyBody } from './bodies.js';
import { LIVE_KINDS } from './live-body.js';
import type { Route } from './route.js';
import { sessionBody, sessionRequest } from './session-routes.js';

type Json = Record<string, unknown>;

function toSchema(schema: z.ZodType, io: 'input' | 'output'): Json {
  const described = {
    ...z.toJSONSchema(schema, {
      ...{ io, unrepresentable: 'any' as const },
      // of what is turned into something else it leaves the default away: here both are written alike
      override: ({ zodSchema: { _zod }, jsonSchema }) => {
        if (_zod.def.type === 'default') jsonSchema.default = _zod.def.defaultValue;
      },
    }),
  } as Json;
  delete described['$schema']; // the document as a whole says which dialect it speaks
  return described;
}

function listParameters(schema: z.ZodObject, place: 'query' | 'path'): Json[] {
  const described = toSchema(schema, 'input');
  const properties = (described['properties'] ?? {}) as Record<string, Json>;
  const required = new Set((described['required'] ?? []) as string[]);
  return Object.entries(properties).map(([name, { description, ...rest }]) => ({
    name,
    in: place,
    required: place === 'path' || required.has(name),
    ...(description === undefined ? {} : { description }),
    schema: rest,
  }));
}

function describeProblem(why: string): Json {
  return {
    description: why,
    content: { 'application/problem+json': { schema: { $ref: '#/components/schemas/Problem' } } },
  };
}

/** What any route may answer with, whoever makes it. */
const REFUSALS: readonly (readonly [status: number, why: string])[] = [
  [
    400,
    'a parameter, the body or the request itself is not valid; the answer says which and what was expected',
  ],
  [401, 'there are users, and nobody has logged in'],
  [
    403,
    'the role of the login does not suffice, or the request comes from another origin or names another host',
  ],
  [406, 'it does not come as what is asked for: CSV, for example, where it is no list'],
  [413, 'the body is longer than it may be'],
  [415, 'the body is no JSON, or packed'],
  [429, 'too many logins failed'],
  [500, 'a fault of the gateway; its log says more'],
  [503, 'too much is asked at once, or nothing can be stored just now; Retry-After says when to ask again'],
];

function pick(...statuses: number[]): Json {
  const picked = REFUSALS.filter(([status]) => statuses.includes(status));
  return Object.fromEntries(picked.map(([status, why]) => [String(status), describeProblem(why)]));
}

function describeRefusals(more: Route['problems']): Json {
  const all = new Map(REFUSALS.map(([status, why]) => [String(status), why]));
  for (const [status, why] of more) all.set(String(status), why);
  return Object.fromEntries([...all].map(([status, why]) => [status, describeProblem(why)]));
}

/** Either lets in; without users neither is asked for. */
function describeSecurity(need: Need): Json {
  if (need === 'open') return { security: [] };
  return { security: [{ login: [] }, { session: [] }], 'x-role': need };
}

/** With users the login is who acts, so that the name may be left away. */
function describeBody(body: z.ZodObject): Json {
  const described = toSchema(body, 'input');
  const required = ((described['required'] ?? []) as string[]).filter(
    (name) => name !== 'who' && name !== 'by',
  );
  const rest = Object.fromEntries(Object.entries(described).filter(([name]) => name !== 'required'));
  return required.length === 0 ? rest : { ...rest, required };
}

function nameOperation({ method, path }: Route): string {
  const words = path
    .replace('/api/v1/', '')
    .replaceAll(/[{}]/g, '')
    .split(/[^a-zA-Z]+/);
  return method.toLowerCase() + words.map((word) => word.charAt(0).toUpperCase() + word.slice(1)).join('');
}

const READ_HEADERS = {
  etag: {
    description: 'give it as If-None-Match to be told 304 when nothing changed',
    schema: { type: 'string' },
  },
  link: { description: 'of CSV: where the next page is, rel="next"', schema: { type: 'string' } },
};

function describeOperation(route: Route): Json {
  const isRead = route.method === 'GET';
  return {
    operationId: nameOperation(route),
    summary: route.summary,
    ...describeSecurity(route.need ?? (isRead ? 'view' : 'engineer')),
    parameters: [...listParameters(route.params, 'path'), ...listParameters(route.query, 'query')],
    ...(route.body === null
      ? {}
      : {
          requestBody: {
            required: true,
            content: { 'application/json': { schema: describeBody(route.body) } },
          },
        }),
    responses: {
      '200': {
        description: 'done',
        ...(isRead ? { headers: READ_HEADERS } : {}),
        content: {
          'application/json': { schema: toSchema(route.response, 'output') },
          ...(route.list === undefined ? {} : { 'text/csv': { schema: { type: 'string' } } }),
        },
      },
      ...(isRead ? { '304': { description: 'the content is the one that If-None-Match names' } } : {}),
      ...describeRefusals(route.problems),
    },
  };
}

function describePlain(summary: string, mediaType: string, schema: Json, more: Json = {}): Json {
  return {
    get: {
      summary,
      responses: { '200': { description: 'done', content: { [mediaType]: { schema } } }, ...more },
    },
  };
}

/** A word for whoever watches the process, under 503 when it is not as it should be. */
function describeProbe(summary: string, body: z.ZodType, otherwise: string): Json {
  const schema = toSchema(body, 'output');
  const other = { description: otherwise, content: { 'application/json': { schema } } };
  const { get } = describePlain(summary, 'application/json', schema, { '503': other });
  return { get: { security: [], ...(get as Json) } };
}

/** The document for `/api/v1/openapi.json`. */
export function describeApi(routes: readonly Route[], version: string): Json {
  const paths: Record<string, Json> = {};
  for (const route of routes) {
    paths[route.path] = { ...paths[route.path], [route.method.toLowerCase()]: describeOperation(route) };
  }
  return {
    openapi: '3.1.0',
    info: {
      title: 'Tallypost',
      version,
      description:
        'Counts of bearing discharges on drive-fed motors. A count is not a severity, zero counts prove nothing, and ' +
        'nothing here may serve as an interlock, a trip or a protection input.',
      license: { name: 'Apache-2.0', identifier: 'Apache-2.0' },
    },
    security: [{ login: [] }, { session: [] }],
    paths: {
      '/live': describeProbe('Whether what takes readings in answers', liveBody, 'it does not'),
      '/ready': describeProbe('Whether it moves data', readyBody, 'it does not; the reasons say why'),
      '/metrics': describePlain(
        'Figures about the gateway itself',
        'application/openmetrics-text',
        { type: 'string' },
        pick(401, 403, 500),
      ),
      '/api/v1/openapi.json': describePlain(
        'This document',
        'application/json',
        { type: 'object' },
        pick(401, 403),
      ),
      ...paths,
      '/api/v1/live': describeLive(),
      '/api/v1/session': describeSession(),
    },
    components: {
      schemas: { Problem: toSchema(problemBody, 'output') },
      securitySchemes: {
        login: { type: 'http', scheme: 'basic', description: 'name and password of a user of http.users' },
        session: { type: 'apiKey', in: 'cookie', name: 'tallypost_session', description: 'of the page' },
      },
    },
  };
}

function describeLive(): Json {
  const plain = describePlain(
    `Live events: ${LIVE_KINDS.join(', ')}. Give the last id as Last-Event-ID to go on behind it`,
    'text/event-stream',
    { type: 'string' },
    { ...pick(400, 401, 403), '503': describeProblem('as many follow it already as may, or it is starting') },
  );
  const description = 'id of the last event that came';
  const parameters = [
    { name: 'Last-Event-ID', in: 'header', description, schema: { type: 'string' } },
    {
      ...{ name: LAST_ID_PARAMETER, in: 'query', schema: { type: 'string' } },
      description: `${description}, for who cannot send the header; the header goes before it`,
    },
  ];
  return { get: { ...(plain['get'] as Json), parameters } };
}

function describeSession(): Json {
  const done = {
    description: 'done',
    content: { 'application/json': { schema: toSchema(sessionBody, 'output') } },
  };
  const open = { security: [] };
  return {
    get: { ...open, summary: 'Who one is, and whether a login is needed', responses: { '200': done } },
    post: {
      ...open,
      summary: 'Log in on the page; the answer sets the cookie',
      requestBody: {
        required: true,
        content: { 'application/json': { schema: toSchema(sessionRequest, 'input') } },
      },
      responses: {
        ...{ '200': done, ...pick(400, 403, 413, 415, 500) },
        '401': describeProblem('the name or the password is wrong'),
        '429': describeProblem('too many logins failed; Retry-After says how long to wait'),
      },
    },
    delete: { ...open, summary: 'Log out', responses: { '200': done, ...pick(403) } },
  };
}
