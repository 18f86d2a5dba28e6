/**
 * The HTTP interface: probes, metrics, versioned JSON, the live stream and the page.
 * Listens on loopback only; other addresses are refused until there are users to let in.
 */
import { fastify, type FastifyInstance } from 'fastify';
import { OPEN_ACCESS, type Access } from './access.js';
import { admitVisitors, isStillAdmitted } from './admission.js';
import type { ApiDeps } from './deps.js';
import { answerErrors, answerUnreadable, describeError, sendProblem } from './error-answers.js';
import { guardRequests, isLoopback, setSafeHeaders } from './guard.js';
import { followRates } from './latest-rates.js';
import { addLiveStream } from './live-stream.js';
import { LoginDesk } from './login-desk.js';
import { METRICS_MEDIA_TYPE, writeMetrics } from './metrics.js';
import { describeApi } from './openapi.js';
import { addRoute } from './route-answers.js';
import { addSession } from './session-routes.js';
import { addPage } from './page-files.js';
import { adviceRoutes } from './routes/advice.js';
import { LiveCounts } from './live-counts.js';
import { bearingLifeRoute } from './routes/bearing-life.js';
import { commissioningRoutes } from './routes/commissioning.js';
import { chartRoutes } from './routes/charts.js';
import { countRoutes } from './routes/counts.js';
import { clockRoute, gatewayRoute } from './routes/gateway.js';
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
import { JSON_MEDIA_TYPE, sendText } from './text-answers.js';

const BODY_BYTES_MOST = 16_384;
const REQUEST_TIMEOUT_MS = 15_000;
const CONNECTIONS_MOST = 128;

/** The address is not loopback although no users are configured. */
export class ListenRefusal extends Error {
  readonly code = 'not-loopback';
  readonly hint = 'Use 127.0.0.1 or [::1], or configure http.users.';
  constructor(host: string) {
    super(
      `The HTTP interface will not listen on ${host}: without users configured, anybody there could read and acknowledge.`,
    );
  }
}

/**
 * Builds the server without listening; for tests as well. `access` absent: whoever reaches it may do everything. `desk`: whose
 * users may change while it runs.
 */
export function buildServer(
  deps: ApiDeps,
  host: string,
  access: Access = OPEN_ACCESS,
  desk = new LoginDesk(access),
): FastifyInstance {
  const server = fastify({
    bodyLimit: BODY_BYTES_MOST,
    requestTimeout: REQUEST_TIMEOUT_MS,
    forceCloseConnections: true,
    logger: false,
    clientErrorHandler: answerUnreadable,
    frameworkErrors: (error, request, reply) => {
      setSafeHeaders(reply);
      void sendProblem(reply, describeError(error, request, deps));
    },
    ...(access.tls === null ? {} : { https: { ...access.tls, minVersion: 'TLSv1.2' } }),
  }) as FastifyInstance;
  server.server.maxConnections = CONNECTIONS_MOST;
  answerErrors(server, deps);
  guardRequests(server, host, access.names);
  admitVisitors(server, access, desk, () => deps.now());
  const latest = followRates((listener) => deps.subscribeLive(listener));
  server.addHook('onClose', async () => Promise.resolve(latest.close()));
  const live = addLiveStream(server, deps, (request) => isStillAdmitted(request, access, desk, deps.now()));
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
    clockRoute,
    ...wiringRoutes,
    ...commissioningRoutes,
    ...sinkRoutes,
  ];
  for (const route of routes) addRoute(server, route, deps);
  addProbes(server, deps);
  addSession(server, access, desk, () => deps.now());
  const document = JSON.stringify(describeApi(routes, deps.version));
  server.get('/api/v1/openapi.json', (request, reply) => sendText(request, reply, JSON_MEDIA_TYPE, document));
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
  access: Access = OPEN_ACCESS,
): Promise<{ port: number; desk: LoginDesk; close: () => Promise<void> }> {
  if (access.users === null && !isLoopback(host)) throw new ListenRefusal(host);
  const desk = new LoginDesk(access);
  const server = buildServer(deps, host, access, desk);
  await server.listen({ host, port });
  const address = server.server.address();
  return {
    port: typeof address === 'object' && address !== null ? address.port : port,
    desk,
    close: () => server.close(),
  };
}

function addProbes(server: FastifyInstance, deps: ApiDeps): void {
  server.get('/live', async (_request, reply) => {
    const { isLive } = await askStanding(deps);
    return reply.code(isLive ? 200 : 503).send({ live: isLive });
  });
  server.get('/ready', async (_request, reply) => {
    const { reasons } = await askStanding(deps);
    return reply.code(reasons.length === 0 ? 200 : 503).send({ ready: reasons.length === 0, reasons });
  });
  server.get('/metrics', async (_request, reply) =>
    reply.type(METRICS_MEDIA_TYPE).send(writeMetrics(await deps.metrics())),
  );
}

/** What runs the intake must answer itself: that somebody serves HTTP beside it proves nothing. */
async function askStanding(
  deps: Pick<ApiDeps, 'standing'>,
): Promise<{ isLive: boolean; reasons: readonly string[] }> {
  try {
    return { isLive: true, reasons: (await deps.standing()).unreadyReasons };
  } catch (error) {
    return { isLive: false, reasons: [error instanceof Error ? error.message : String(error)] };
  }
}
