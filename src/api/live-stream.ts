/**
 * The live stream as server-sent events: rates, alarms, drive messages, transients and journal entries as they are
 * committed. Each has an id; a reader that comes back with the last one it got goes on behind it, also after a restart.
 * Source: the "Server-sent events" section of the HTML standard.
 */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { LAST_ID_PARAMETER, LIVE_HEARTBEAT_MS } from '../../shared/live-terms.js';
import type { ApiDeps } from './deps.js';
import { setSafeHeaders } from './guard.js';
import { writeHeartbeat } from './live-body.js';
import { LiveHub } from './live-hub.js';
import { readMark } from './live-mark.js';
import { LiveReader } from './live-reader.js';
import { describeBusy, describeInvalid, ProblemError } from './problem.js';

const READERS_MOST = 64;
const RETRY_MS = 2_000;

/** Adds `GET /api/v1/live`. Streams end when the server closes, and soon after `isAdmitted` says no to their request. */
export function addLiveStream(
  server: FastifyInstance,
  deps: ApiDeps,
  isAdmitted: (request: FastifyRequest) => boolean,
): { readers(): number } {
  const hub = new LiveHub(
    deps,
    `${deps.now().toString(36)}${Math.floor(Math.random() * 36 ** 3).toString(36)}`,
  );
  void learnJournal(hub, deps);
  const readers = new Set<() => void>();
  server.route({
    method: 'GET',
    url: '/api/v1/live',
    exposeHeadRoute: false,
    handler: (request, reply) => {
      const lastId = lastIdOf(request);
      if (readers.size >= READERS_MOST) throw refuse();
      if (!hub.knowsJournal) void learnJournal(hub, deps);
      openStream(request, reply, lastId, { hub, deps, readers, isAdmitted });
    },
  });
  server.addHook('preClose', async () => {
    for (const end of readers) end();
    hub.close();
    await Promise.resolve();
  });
  return { readers: () => readers.size };
}

/** Until it is known how far the journal is, ids do not say so, and who comes back with one loads everything again. */
async function learnJournal(hub: LiveHub, { reader }: ApiDeps): Promise<void> {
  try {
    hub.learnJournalEnd(await reader.journalEnd());
  } catch {
    // the next reader asks again
  }
}

function refuse(): ProblemError {
  const detail = `${READERS_MOST} readers follow the live stream already.`;
  return new ProblemError(describeBusy(detail, 'Close one, or poll /api/v1/motors.'));
}

interface Streams {
  readonly hub: LiveHub;
  readonly deps: ApiDeps;
  /** each ends one */
  readonly readers: Set<() => void>;
  isAdmitted(this: void, request: FastifyRequest): boolean;
}

function openStream(
  request: FastifyRequest,
  reply: FastifyReply,
  lastId: string,
  { hub, deps, readers, isAdmitted }: Streams,
): void {
  setSafeHeaders(reply);
  reply.hijack();
  const socket = reply.raw;
  for (const [name, value] of Object.entries(reply.getHeaders()))
    if (value !== undefined) socket.setHeader(name, value);
  socket.writeHead(200, {
    'content-type': 'text/event-stream; charset=utf-8',
    // a proxy that gathers answers would hold events back
    'x-accel-buffering': 'no',
  });
  request.raw.socket.setKeepAlive(true);
  socket.write(`retry: ${RETRY_MS}\n\n`);
  const reader = new LiveReader(hub, deps, socket, request.isWall);
  const unfollow = hub.follow(() => reader.pump());
  const heartbeat = setInterval(() => {
    if (socket.writableEnded) return;
    if (!isAdmitted(request)) socket.end();
    // a socket that is full tells its reader more than a heartbeat would, as soon as it is read
    else if (!socket.writableNeedDrain) socket.write(writeHeartbeat(deps.now()));
  }, LIVE_HEARTBEAT_MS);
  const end = (): void => void socket.end();
  readers.add(end);
  socket.once('close', () => {
    clearInterval(heartbeat);
    unfollow();
    readers.delete(end);
  });
  reader.begin(lastId === '' ? 'now' : readMark(lastId));
}

/**
 * Id of the last event that the reader got; empty: it begins. A browser sends the header when it connects again by itself; a script that
 * opens a stream anew, because the old one fell silent, cannot set one, and gives it in the address. Throws for other parameters.
 */
function lastIdOf(request: FastifyRequest): string {
  const { [LAST_ID_PARAMETER]: given = '', ...rest } = request.query as Record<string, unknown>;
  // a slip in its name would begin now, and what was missed would never be told
  const [unknown] = Object.keys(rest);
  if (unknown !== undefined) throw refuseParameter(unknown, 'unknown');
  if (typeof given !== 'string') throw refuseParameter(LAST_ID_PARAMETER, 'it is there more than once');
  const { 'last-event-id': sent } = request.headers;
  return typeof sent === 'string' && sent !== '' ? sent : given;
}

function refuseParameter(name: string, fault: string): ProblemError {
  return new ProblemError(
    describeInvalid([{ name, fault }], `GET /api/v1/live takes ${LAST_ID_PARAMETER}, once.`),
  );
}
