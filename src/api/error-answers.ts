/**
 * Every refusal as a problem document, whoever makes it: a handler, the framework, or nobody, because there is nothing at the
 * address or not under this method.
 */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Socket } from 'node:net';
import type { ApiDeps } from './deps.js';
import { SAFE_HEADERS } from './guard.js';
import {
  describeBusy,
  describeConflict,
  describeFault,
  describeInvalid,
  describeMediaType,
  describeMethod,
  describeNotFound,
  describeNotReady,
  describeTooLarge,
  PROBLEM_MEDIA_TYPE,
  ProblemError,
  type Problem,
} from './problem.js';

const ADDRESSES = 'See /api/v1/openapi.json for all addresses.';

/** Seconds after which what cannot be done now may be asked for again. Our choice. */
const RETRY_S = 5;

export function sendProblem(reply: FastifyReply, problem: Problem): FastifyReply {
  if (problem.status === 503) reply.header('retry-after', String(RETRY_S));
  return reply.code(problem.status).type(PROBLEM_MEDIA_TYPE).send(JSON.stringify(problem));
}

/** Adds the answers to errors, to unknown addresses and to methods that an address does not know. Before any route. */
export function answerErrors(server: FastifyInstance, deps: Pick<ApiDeps, 'logFault'>): void {
  const known: { readonly pattern: RegExp; readonly methods: Set<string> }[] = [];
  server.addHook('onRoute', ({ url, method }) => {
    const pattern = new RegExp(
      `^${url.replaceAll('.', '\\.').replaceAll(/:\w+/g, '[^/]+').replaceAll('*', '.*')}$`,
    );
    const same = known.find((each) => each.pattern.source === pattern.source);
    const methods = same?.methods ?? new Set<string>();
    for (const each of Array.isArray(method) ? method : [method]) methods.add(each);
    if (same === undefined) known.push({ pattern, methods });
  });
  server.setErrorHandler((error, request, reply) => sendProblem(reply, describeError(error, request, deps)));
  server.setNotFoundHandler((request, reply) => {
    const path = request.url.split('?', 1)[0] ?? '';
    const methods = known.filter(({ pattern }) => pattern.test(path)).flatMap((each) => [...each.methods]);
    if (methods.length === 0)
      return sendProblem(reply, describeNotFound(`There is nothing at ${request.url}.`, ADDRESSES));
    const allowed = [...new Set([...methods, 'OPTIONS'])].sort().join(', ');
    reply.header('allow', allowed);
    if (request.method === 'OPTIONS') return reply.code(204).send();
    const detail = `${path} does not take ${request.method}.`;
    return sendProblem(reply, describeMethod(detail, `It takes ${allowed}. ${ADDRESSES}`));
  });
}

/** What was sent could not be read as a request: there is none to answer to, only a socket. Source: RFC 9112, 2.2. */
export function answerUnreadable(error: { readonly code?: string }, socket: Socket): void {
  if (error.code === 'ECONNRESET' || socket.destroyed) return;
  if (socket.writable) {
    const problem = describeUnreadable(error.code);
    const body = JSON.stringify(problem);
    const headers = {
      ...{ ...SAFE_HEADERS, 'content-type': PROBLEM_MEDIA_TYPE },
      ...{ 'content-length': String(Buffer.byteLength(body)), connection: 'close' },
    };
    const lines = Object.entries(headers).map(([name, value]) => `${name}: ${value}\r\n`);
    socket.write(`HTTP/1.1 ${problem.status} ${problem.title}\r\n${lines.join('')}\r\n${body}`);
  }
  socket.destroySoon();
}

function describeUnreadable(code: string | undefined): Problem {
  const hint = 'Send well-formed HTTP/1.1.';
  const problem = { ...describeInvalid([], hint), detail: 'What was sent is no request that could be read.' };
  if (code === 'HPE_HEADER_OVERFLOW')
    return { ...problem, title: 'Header too large', status: 431, detail: 'The headers are too long.' };
  if (code === 'ERR_HTTP_REQUEST_TIMEOUT')
    return { ...problem, title: 'Request timeout', status: 408, detail: 'The request did not come in time.' };
  return problem;
}

/** Codes by which the engine says that it does nothing now, and will later; and that of a thread that does not answer. */
const NOT_READY: readonly unknown[] = ['NOT_READY', 'ENGINE_GONE', 'no-answer'];

/** Codes of what does not apply to things as they stand. */
const CONFLICTS: readonly unknown[] = ['exists', 'CLOCK_NOT_IN_DOUBT'];

export function describeError(
  error: unknown,
  request: FastifyRequest,
  deps: Pick<ApiDeps, 'logFault'>,
): Problem {
  if (error instanceof ProblemError) return error.problem;
  const fields = typeof error === 'object' && error !== null ? (error as Record<string, unknown>) : {};
  const message = error instanceof Error ? error.message : String(error);
  const status = fields['statusCode'];
  if (typeof status === 'number' && status >= 400 && status < 500) return describeStatus(status, message);
  if (fields['code'] === 'cursor') {
    const fault = { name: 'cursor', fault: 'it is not the `next` of a page of this list' };
    return describeInvalid([fault], 'Begin again without a cursor.');
  }
  const hint = fields['hint'];
  if (typeof hint === 'string') {
    if (NOT_READY.includes(fields['code'])) return describeNotReady(message, hint);
    if (fields['code'] === 'busy') return describeBusy(message, hint);
    if (CONFLICTS.includes(fields['code'])) return describeConflict(message, hint);
    return { ...describeFault(message), title: 'Could not be done', hint };
  }
  deps.logFault(error, request.id);
  return describeFault(`Request ${request.id} failed by a fault of the gateway.`);
}

/** What the framework refuses. */
function describeStatus(status: number, message: string): Problem {
  switch (status) {
    case 413:
      return describeTooLarge(
        message,
        'Send less at once; the OpenAPI document says how much each field may hold.',
      );
    case 415:
      return describeMediaType(message, 'Send JSON with the header content-type: application/json.');
    case 404:
      return describeNotFound(message, ADDRESSES);
    default: {
      const problem = describeInvalid(
        [],
        'Send well-formed HTTP and JSON: the detail says what could not be read.',
      );
      return { ...problem, status, detail: message };
    }
  }
}
