/**
 * The live stream as server-sent events: rates, alarms, drive messages, transients and journal entries as they are
 * committed. A reader that is too slow misses events and is told how many; nothing is queued without bound.
 * Source: the "Server-sent events" section of the HTML standard for the wire format.
 */
import type { FastifyInstance, FastifyReply } from 'fastify';
import { writeJournal, writeRate } from '../../shared/write-messages.js';
import { toAlarmBody, toTransientBody } from './body-maps.js';
import type { ApiDeps, LiveEvent } from './deps.js';
import { describeBusy, ProblemError } from './problem.js';
import { formatUtc, formatUtcOrNull } from '../../shared/time.js';

const READERS_MOST = 32;
const BUFFER_BYTES_MOST = 262_144;
const HEARTBEAT_MS = 15_000;

function toEventBody(event: LiveEvent, deps: ApiDeps): object {
  switch (event.kind) {
    case 'rate':
      return writeRate(event.rate);
    case 'alarm':
      return toAlarmBody(event.alarm, deps.plan());
    case 'drive':
      return {
        motor: event.drive.motor,
        state: event.drive.state,
        modulating: event.drive.modulating,
        at: formatUtc(event.drive.at),
        since: formatUtcOrNull(event.drive.since),
      };
    case 'drive-presence': {
      const { motor, online, at } = event.presence;
      return { motor, online, at: formatUtc(at) };
    }
    case 'transient':
      return toTransientBody(event.transient);
    case 'journal':
      return writeJournal(event.entry);
  }
}

function openReader(reply: FastifyReply, deps: ApiDeps, onEnd: () => void): () => void {
  const socket = reply.raw;
  let missed = 0;
  const write = (text: string): void => {
    if (!socket.writableEnded) socket.write(text);
  };
  const unsubscribe = deps.subscribeLive((event) => {
    if (socket.writableLength > BUFFER_BYTES_MOST) {
      missed += 1;
      return;
    }
    if (missed > 0) write(`event: missed\ndata: ${JSON.stringify({ events: missed })}\n\n`);
    missed = 0;
    write(`event: ${event.kind}\ndata: ${JSON.stringify(toEventBody(event, deps))}\n\n`);
  });
  const heartbeat = setInterval(() => write(': still here\n\n'), HEARTBEAT_MS);
  write('retry: 2000\n\n');
  socket.once('close', () => {
    clearInterval(heartbeat);
    unsubscribe();
    onEnd();
  });
  return () => socket.end();
}

/** Adds `GET /api/v1/live`; all streams end when the server closes. */
export function addLiveStream(server: FastifyInstance, deps: ApiDeps): { readers(): number } {
  const readers = new Set<() => void>();
  server.get('/api/v1/live', (request, reply) => {
    if (readers.size >= READERS_MOST) {
      throw new ProblemError(
        describeBusy(
          `${READERS_MOST} readers follow the live stream already.`,
          'Close one, or poll /api/v1/motors.',
        ),
      );
    }
    reply.hijack();
    for (const [name, value] of Object.entries(reply.getHeaders()))
      if (value !== undefined) reply.raw.setHeader(name, value);
    reply.raw.writeHead(200, {
      'content-type': 'text/event-stream; charset=utf-8',
      'cache-control': 'no-store',
      'x-content-type-options': 'nosniff',
    });
    request.raw.socket.setKeepAlive(true);
    const end = openReader(reply, deps, () => readers.delete(end));
    readers.add(end);
  });
  server.addHook('preClose', async () => {
    for (const end of readers) end();
    await Promise.resolve();
  });
  return { readers: () => readers.size };
}
