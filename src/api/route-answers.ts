/** Puts a route on the server: checks what comes in against its schemas, and sends its answer as JSON or as CSV. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { z } from 'zod';
import type { Visitor } from './access.js';
import { chooseMedia } from './accepted-media.js';
import { CSV_MEDIA_TYPE, findColumns, findItems, writeCsv } from './csv.js';
import { nameList, openCursor, sealCursor } from './cursor-seal.js';
import type { ApiDeps } from './deps.js';
import { describeInvalid, describeNotAcceptable, ProblemError } from './problem.js';
import type { Route } from './route.js';
import { JSON_MEDIA_TYPE, sendText } from './text-answers.js';

export function addRoute(server: FastifyInstance, route: Route, deps: ApiDeps): void {
  let columns: (readonly string[])[] | null = null;
  server.route({
    method: route.method,
    url: route.path.replaceAll(/\{(\w+)\}/g, ':$1'),
    ...(route.bodyBytesMost === undefined ? {} : { bodyLimit: route.bodyBytesMost }),
    config: route.need === undefined ? {} : { need: route.need },
    handler: async (request, reply) => {
      const media = chooseMedia(request.headers.accept, route.list !== undefined);
      if (media === null) throw refuseMedia(route, request.headers.accept ?? '');
      const asked = parsePart(route.query, request.query ?? {}, 'a parameter', route);
      const params = parsePart(route.params, request.params ?? {}, 'the address', route);
      const list = nameList(route.path, params, asked);
      const query =
        typeof asked['cursor'] === 'string' ? { ...asked, cursor: openCursor(asked['cursor'], list) } : asked;
      const given = nameVisitor(route, request.body === undefined ? {} : request.body, request.visitor);
      const body = route.body === null ? {} : parsePart(route.body, given, 'the body', route);
      const found = await route.handle({ query, params, body, isWall: request.isWall }, deps);
      const answer = sealNext(found, list);
      if (media === 'json') return sendText(request, reply, JSON_MEDIA_TYPE, JSON.stringify(answer));
      columns ??= findColumns(route.response, route.list!);
      return sendCsv(request, reply, writeCsv(columns, findItems(answer, route.list!)), answer['next']);
    },
  });
}

/** An answer whose `next`, if it has one, is a cursor of its list. */
function sealNext(answer: unknown, list: string): Record<string, unknown> {
  const found = answer as Record<string, unknown>;
  return typeof found['next'] === 'string' ? { ...found, next: sealCursor(found['next'], list) } : found;
}

/** Names under which a body says who acts. */
const PERSONS = ['who', 'by'];

/**
 * With users the login is who acts: it need not be given, and another name is refused, so that the journal never says that
 * somebody did what somebody else did.
 */
function nameVisitor(route: Route, body: unknown, visitor: Visitor | null): unknown {
  if (visitor === null || route.body === null) return body;
  if (typeof body !== 'object' || body === null || Array.isArray(body)) return body;
  const field = PERSONS.find((name) => Object.hasOwn(route.body!.shape, name));
  if (field === undefined) return body;
  const given = (body as Record<string, unknown>)[field];
  if (given === undefined || given === '' || given === visitor.name)
    return { ...body, [field]: visitor.name };
  const fault = { name: field, fault: `it is not the name of the login, "${visitor.name}"` };
  throw new ProblemError(describeInvalid([fault], `Leave ${field} away; put other names into the note.`));
}

function parsePart(schema: z.ZodObject, value: unknown, part: string, route: Route): Record<string, unknown> {
  const parsed = schema.safeParse(value);
  if (parsed.success) return parsed.data;
  const faults = parsed.error.issues.map((issue) => ({
    name: issue.path.length === 0 ? part : issue.path.join('.'),
    fault: issue.code === 'unrecognized_keys' ? `unknown: ${issue.keys.join(', ')}` : issue.message,
  }));
  const known = Object.keys(schema.shape);
  const names = known.length === 0 ? 'It takes none.' : `It takes: ${known.join(', ')}.`;
  throw new ProblemError(
    describeInvalid(faults, `Correct ${part} of ${route.method} ${route.path}. ${names}`),
  );
}

function refuseMedia({ path, list }: Route, accept: string): ProblemError {
  const has = list === undefined ? 'application/json' : 'application/json or text/csv';
  return new ProblemError(
    describeNotAcceptable(
      list === undefined && accept.includes('csv')
        ? `${path} is no list, so there is no CSV of it.`
        : `${path} does not come as ${accept}.`,
      `Ask for ${has}.`,
    ),
  );
}

function sendCsv(request: FastifyRequest, reply: FastifyReply, text: string, next: unknown): FastifyReply {
  if (typeof next === 'string') {
    // Source: RFC 8288
    const [path = '', query = ''] = request.url.split('?', 2);
    const parameters = new URLSearchParams(query);
    parameters.set('cursor', next);
    reply.header('link', `<${path}?${parameters.toString()}>; rel="next"`);
  }
  return sendText(request, reply, CSV_MEDIA_TYPE, text);
}
