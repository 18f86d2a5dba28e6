/**
 * The HTTP interface: probes, metrics, versioned JSON, the live stream and the page.
 * Listens on loopback only; other addresses are refused until there are users to let in.
 */
import { fastify, type FastifyInstance, type FastifyReply, type FastifyRequest } from 'fastify';
import type { z } from 'zod';
import type { ApiDeps } from './deps.js';
import { guardRequests, isLoopback } from './guard.js';
import { followRates } from './latest-rates.js';
import { addLiveStream } from './live-stream.js';
import { METRICS_MEDIA_TYPE, writeMetrics } from './metrics.js';
import { describeApi } from './openapi.js';
import { addPage } from './page-files.js';
import {
  describeConflict,
  describeFault,
  describeInvalid,
  describeNotFound,
  describeNotReady,
  type Problem,
  PROBLEM_MEDIA_TYPE,
  ProblemError,
} from './problem.js';
import type { Route } from './route.js';
import { adviceRoutes } from './routes/advice.js';
import { LiveCounts } from './live-counts.js';
import { bearingLifeRoute } from './routes/bearing-life.js';
import { commissioningRoutes } from './routes/commissioning.js';
import { chartRoutes } from './routes/charts.js';
import { countRoutes } from './routes/counts.js';
import { gatewayRoute } from './routes/gateway.js';
import { historyRoutes } from './routes/history.js';
import { journalRoutes } from './routes/journal.js';
import { maintenanceRoutes } from './routes/maintenance.js';
import { alarmPerformanceRoute } from './routes/alarm-performance.js';
import { alarmRoutes } from './routes/alarms.js';
import { rehearsalRoutes } from './routes/rehearsals.js';
import { notifyRoutes } from './routes/notify.js';
import { sinkRoutes } from './routes/sinks.js';
import { stateRoutes } from './routes/state.js';
import { wiringRoutes } from './routes/wiring.js';
import { stripsRoute } from './routes/strips.js';

const BODY_BYTES_MOST = 16_384;
const REQUEST_TIMEOUT_MS = 15_000;
const CONNECTIONS_MOST = 128;

/** The address is not loopback although no users are configured. */
export class ListenRefusal extends Error {
  readonly code = 'not-loopback';
  readonly hint =
    'Use 127.0.0.1 or [::1], and reach it from elsewhere through a tunnel that asks who is there.';
  constructor(host: string) {
    super(
      `The HTTP interface will not listen on ${host}: without users configured, anybody there could read and acknowledge.`,
    );
  }
}

/** Builds the server without listening; for tests as well. */
export function buildServer(deps: ApiDeps, host: string): FastifyInstance {
  const server = fastify({
    bodyLimit: BODY_BYTES_MOST,
    requestTimeout: REQUEST_TIMEOUT_MS,
    forceCloseConnections: true,
    logger: false,
  });
  server.server.maxConnections = CONNECTIONS_MOST;
  server.setErrorHandler((error, request, reply) => answerError(error, request, reply, deps));
  server.setNotFoundHandler((request, reply) =>
    sendProblem(
      reply,
      describeNotFound(`There is nothing at ${request.url}.`, 'See /api/v1/openapi.json for all addresses.'),
    ),
  );
  guardRequests(server, host);
  const latest = followRates((listener) => deps.subscribeLive(listener));
  server.addHook('onClose', async () => Promise.resolve(latest.close()));
  const live = addLiveStream(server, deps);
  const routes = [
    ...stateRoutes(latest),
    stripsRoute(),
    alarmPerformanceRoute,
    ...alarmRoutes,
    ...historyRoutes,
    ...journalRoutes,
    ...maintenanceRoutes,
    bearingLifeRoute,
    ...countRoutes(new LiveCounts()),
    ...adviceRoutes,
    ...chartRoutes,
    ...rehearsalRoutes,
    ...notifyRoutes,
    gatewayRoute(() => live.readers()),
    ...wiringRoutes,
    ...commissioningRoutes,
    ...sinkRoutes,
  ];
  for (const route of routes) addRoute(server, route, deps);
  addProbes(server, deps);
  const document = describeApi(routes, deps.version);
  server.get('/api/v1/openapi.json', () => document);
  addPage(server);
  return server;
}

/**
 * Listens on `host:port` (0: a free port) and returns the port taken. Rejects with `ListenRefusal` or the system's error.
 */
export async function startServer(
  deps: ApiDeps,
  host: string,
  port: number,
): Promise<{ port: number; close: () => Promise<void> }> {
  if (!isLoopback(host)) throw new ListenRefusal(host);
  const server = buildServer(deps, host);
  await server.listen({ host, port });
  const address = server.server.address();
  return {
    port: typeof address === 'object' && address !== null ? address.port : port,
    close: () => server.close(),
  };
}

function addProbes(server: FastifyInstance, deps: ApiDeps): void {
  server.get('/live', () => ({ live: true }));
  server.get('/ready', (_request, reply) => {
    const reasons = deps.unreadyReasons();
    return reply.code(reasons.length === 0 ? 200 : 503).send({ ready: reasons.length === 0, reasons });
  });
  server.get('/metrics', (_request, reply) =>
    reply.type(METRICS_MEDIA_TYPE).send(writeMetrics(deps.metrics())),
  );
}

function addRoute(server: FastifyInstance, route: Route, deps: ApiDeps): void {
  server.route({
    method: route.method,
    url: route.path.replaceAll(/\{(\w+)\}/g, ':$1'),
    ...(route.bodyBytesMost === undefined ? {} : { bodyLimit: route.bodyBytesMost }),
    handler: async (request) => {
      const query = parsePart(route.query, request.query ?? {}, 'a parameter', route);
      const params = parsePart(route.params, request.params ?? {}, 'the address', route);
      const body = route.body === null ? {} : parsePart(route.body, request.body ?? {}, 'the body', route);
      return route.handle({ query, params, body }, deps);
    },
  });
}

function parsePart(schema: z.ZodObject, value: unknown, part: string, route: Route): unknown {
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

function sendProblem(reply: FastifyReply, problem: Problem): FastifyReply {
  return reply.code(problem.status).type(PROBLEM_MEDIA_TYPE).send(JSON.stringify(problem));
}

/** Codes by which the engine says that it does nothing now, and will later. */
const NOT_READY: readonly unknown[] = ['NOT_READY', 'ENGINE_GONE'];

function answerError(
  error: unknown,
  request: FastifyRequest,
  reply: FastifyReply,
  deps: ApiDeps,
): FastifyReply {
  if (error instanceof ProblemError) return sendProblem(reply, error.problem);
  const fields = typeof error === 'object' && error !== null ? (error as Record<string, unknown>) : {};
  const message = error instanceof Error ? error.message : String(error);
  const status = fields['statusCode'];
  if (typeof status === 'number' && status >= 400 && status < 500) {
    return sendProblem(reply, { ...describeInvalid([], 'Correct the request.'), status, detail: message });
  }
  if (fields['code'] === 'cursor') {
    const fault = { name: 'cursor', fault: 'it is not the `next` of a page of this list' };
    return sendProblem(reply, describeInvalid([fault], 'Begin again without a cursor.'));
  }
  const hint = fields['hint'];
  if (typeof hint === 'string') {
    if (NOT_READY.includes(fields['code'])) return sendProblem(reply, describeNotReady(message, hint));
    if (fields['code'] === 'exists') return sendProblem(reply, describeConflict(message, hint));
    return sendProblem(reply, { ...describeFault(message), title: 'Could not be done', hint });
  }
  deps.logFault(error, request.id);
  return sendProblem(reply, describeFault(`Request ${request.id} failed by a fault of the gateway.`));
}
