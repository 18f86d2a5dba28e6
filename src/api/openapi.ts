/**
 * The OpenAPI document, made from the very schemas that check the requests.
 * Source: OpenAPI 3.1.0, whose schemas are JSON Schema 2020-12.
 */
import { z } from 'zod';
import { liveBody, problemBody, readyBody } from './bodies.js';
import type { Route } from './route.js';

type Json = Record<string, unknown>;

function toSchema(schema: z.ZodType, io: 'input' | 'output'): Json {
  const described = { ...z.toJSONSchema(schema, { io, unrepresentable: 'any' }) } as Json;
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

function describeOperation(route: Route): Json {
  return {
    summary: route.summary,
    parameters: [...listParameters(route.params, 'path'), ...listParameters(route.query, 'query')],
    ...(route.body === null
      ? {}
      : {
          requestBody: {
            required: true,
            content: { 'application/json': { schema: toSchema(route.body, 'input') } },
          },
        }),
    responses: {
      '200': {
        description: 'done',
        content: { 'application/json': { schema: toSchema(route.response, 'output') } },
      },
      '400': describeProblem('a parameter is not valid; the answer says which and what was expected'),
      ...Object.fromEntries(route.problems.map(([status, why]) => [String(status), describeProblem(why)])),
    },
  };
}

function describePlain(summary: string, mediaType: string, schema: Json): Json {
  return {
    get: { summary, responses: { '200': { description: 'done', content: { [mediaType]: { schema } } } } },
  };
}

/** The document for `/api/v1/openapi.json`. */
export function describeApi(routes: readonly Route[], version: string): Json {
  const paths: Record<string, Json> = {};
  for (const route of routes) {
    paths[route.path] = { ...paths[route.path], [route.method.toLowerCase()]: describeOperation(route) };
  }
  const ready = describePlain(
    'Whether it moves data, with reasons when it does not',
    'application/json',
    toSchema(readyBody, 'output'),
  );
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
    paths: {
      '/live': describePlain('Whether the process answers', 'application/json', toSchema(liveBody, 'output')),
      '/ready': {
        get: {
          ...(ready['get'] as Json),
          responses: { ...((ready['get'] as Json)['responses'] as Json), '503': notReady() },
        },
      },
      '/metrics': describePlain('Figures about the gateway itself', 'application/openmetrics-text', {
        type: 'string',
      }),
      ...paths,
      '/api/v1/live': describePlain(
        'Live events: rate, alarm, drive, transient, journal, missed',
        'text/event-stream',
        { type: 'string' },
      ),
    },
    components: { schemas: { Problem: toSchema(problemBody, 'output') } },
  };
}

function notReady(): Json {
  return {
    description: 'not ready; the reasons say why',
    content: { 'application/json': { schema: toSchema(readyBody, 'output') } },
  };
}
