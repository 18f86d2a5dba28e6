/**
 * A gateway in fast motion for the page: everything is passed on to the real one but the live stream, which tells hours of
 * events in seconds, made of what the real one says. The page takes them as they come; a socket that is full holds them up.
 */
import { createServer, request, type IncomingMessage, type ServerResponse } from 'node:http';
import { once } from 'node:events';
import type { AddressInfo } from 'node:net';
import { LIVE_HEARTBEAT } from '../../shared/live-terms.js';
import type { AlarmMessage, RateMessage } from '../../shared/out-messages.js';

const WINDOW_MS = 10_000;
/** an alarm is raised and answered so often, in windows */
const ALARM_EVERY = 60;
const DRIVE_EVERY = 90;
const RATE_WAITS_MOST = 90;
/** a page that hears nothing takes the stream for dead */
const HEARTBEAT_MS = 5_000;
const READER_MS_MOST = 30_000;

export interface FastStream {
  readonly http: string;
  /**
   * Tells so much of simulated time to the reader that follows, and resolves with the number of events when all of it was
   * taken by the socket. An alarm with the id `mark` is the last of it, so that one can see when the page is through.
   */
  run(simulatedMs: number, mark: string): Promise<number>;
  /** Tells the mark again: a page that loads anew meanwhile asks the real gateway, which knows nothing of it. */
  tellMark(mark: string): void;
  /** Tells that events may have been missed, as after a break: the page loads anew what it shows. */
  tellAgain(): Promise<void>;
  close(): Promise<void>;
}

interface Known {
  readonly rates: RateMessage[];
  readonly alarms: AlarmMessage[];
}

async function readKnown(origin: string): Promise<Known> {
  const motors = (await (await fetch(`${origin}/api/v1/motors`)).json()) as {
    motors: { sensors: { rate: RateMessage | null }[] }[];
  };
  const alarms = (await (await fetch(`${origin}/api/v1/alarms?state=open`)).json()) as {
    alarms: AlarmMessage[];
  };
  const rates = motors.motors.flatMap(({ sensors }) => sensors.flatMap(({ rate }) => rate ?? []));
  return { rates, alarms: alarms.alarms };
}

function shift(text: string, ms: number): string {
  return new Date(Date.parse(text) + ms).toISOString();
}

/** The events of one window of all sensors, as text of the stream. */
export function writeWindow(
  { rates, alarms }: Known,
  window: number,
  at: number,
): { text: string; events: number } {
  const events: [string, object][] = rates.map((rate, place) => [
    'rate',
    {
      ...rate,
      window: {
        ...rate.window,
        start: new Date(at).toISOString(),
        end: new Date(at + WINDOW_MS).toISOString(),
      },
      rate_per_min: (rate.rate_per_min ?? 0) * (1 + 0.2 * Math.sin(window / 20 + place)),
    },
  ]);
  const alarm = alarms[Math.floor(window / ALARM_EVERY) % Math.max(1, alarms.length)];
  if (alarm !== undefined && window % ALARM_EVERY === 0) {
    const isBack = Math.floor(window / ALARM_EVERY) % 2 === 0;
    const since = new Date(at).toISOString();
    events.push(['alarm', { ...alarm, state: isBack ? 'normal' : 'unacknowledged', active: !isBack, since }]);
    events.push([
      'journal',
      {
        ...{ at: since, detected_at: since, kind: 'alarm', subject: alarm.id, from: '', to: '', who: '' },
        ...{ text: 'soak', what: 'raised', annunciated: true, configuration: '', evidence: null },
      },
    ]);
  }
  const motor = rates[window % Math.max(1, rates.length)]?.sensor.split('/')[0];
  if (motor !== undefined && window % DRIVE_EVERY === 0) {
    const state = Math.floor(window / DRIVE_EVERY) % 2 === 0 ? 'stopped' : 'running';
    const since = shift(new Date(at).toISOString(), -1_000);
    events.push([
      'drive',
      { motor, state, modulating: state === 'running', at: new Date(at).toISOString(), since },
    ]);
  }
  const text = events.map(([kind, body]) => `event: ${kind}\ndata: ${JSON.stringify(body)}\n\n`).join('');
  return { text, events: events.length };
}

function passOn(origin: string, incoming: IncomingMessage, answer: ServerResponse): void {
  const { hostname, port } = new URL(origin);
  const options = { hostname, port, path: incoming.url, method: incoming.method };
  const headers = { ...incoming.headers, host: `${hostname}:${port}` };
  const onward = request({ ...options, headers }, (response) => {
    answer.writeHead(response.statusCode ?? 502, response.headers);
    response.pipe(answer);
  });
  onward.once('error', () => answer.writeHead(502).end());
  incoming.pipe(onward);
}

/** A gateway that has just started has no rates to tell before its first windows close. */
async function waitForRates(origin: string): Promise<Known> {
  for (let waits = 0; waits < RATE_WAITS_MOST; waits++) {
    const known = await readKnown(origin);
    if (known.rates.length > 0 && known.alarms.length > 0) return known;
    await new Promise((resolve) => setTimeout(resolve, 1_000));
  }
  throw new Error(`${origin} has told no rates and alarms for ${RATE_WAITS_MOST} s`);
}

/** `origin`: of the real gateway. */
export async function startFastStream(origin: string): Promise<FastStream> {
  const known = await waitForRates(origin);
  let reader: ServerResponse | null = null;
  let window = 0;
  const begin = Math.ceil(Date.now() / WINDOW_MS) * WINDOW_MS;
  const server = createServer((incoming, answer) => {
    if (incoming.url?.split('?')[0] !== '/api/v1/live') return passOn(origin, incoming, answer);
    answer.writeHead(200, { 'content-type': 'text/event-stream', 'cache-control': 'no-store' });
    answer.write('retry: 500\n\n');
    reader = answer;
    answer.once('close', () => {
      if (reader === answer) reader = null;
    });
  });
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  const heartbeat = setInterval(() => reader?.write(`event: ${LIVE_HEARTBEAT}\ndata: {}\n\n`), HEARTBEAT_MS);
  const tellMark = (mark: string): void => {
    const last = {
      ...known.alarms[0]!,
      ...{ id: mark, priority: 'high', state: 'unacknowledged', grouped_under: null },
    };
    const since = new Date(begin + window * WINDOW_MS).toISOString();
    reader?.write(`event: alarm\ndata: ${JSON.stringify({ ...last, active: true, since })}\n\n`);
  };
  /** Waits for a reader that comes back, and for one that is slow. */
  const write = async (text: string): Promise<void> => {
    for (let waitedMs = 0; reader === null; waitedMs += 100) {
      if (waitedMs > READER_MS_MOST) throw new Error('nobody follows the stream');
      await new Promise((resolve) => setTimeout(resolve, 100));
    }
    const taker: ServerResponse = reader;
    if (taker.write(text)) return;
    const either = new AbortController();
    const { signal } = either;
    await Promise.race([once(taker, 'drain', { signal }), once(taker, 'close', { signal })]);
    either.abort();
  };
  return {
    http: `http://127.0.0.1:${(server.address() as AddressInfo).port}`,
    async run(simulatedMs, mark) {
      let told = 0;
      for (const end = window + simulatedMs / WINDOW_MS; window < end; window++) {
        const { text, events } = writeWindow(known, window, begin + window * WINDOW_MS);
        told += events;
        await write(text);
      }
      tellMark(mark);
      return told;
    },
    tellMark,
    tellAgain: () => write('event: again\ndata: {}\n\n'),
    async close() {
      clearInterval(heartbeat);
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}
