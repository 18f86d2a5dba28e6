/**
 * The browsers of the bench, as a program of their own: on a site they are on other machines, so here it runs with niceness 19 and
 * takes what the gateway leaves. `browsers JSON` follows and asks until SIGTERM, then writes what it saw as a line of JSON.
 */
import { sleep } from '../support/child.js';

export interface BrowserOrders {
  /** the gateway, without a slash at the end */
  readonly http: string;
  readonly browsers: number;
  /** sensors that have so many days of rollups */
  readonly sensors: number;
  readonly days: number;
}

export interface BrowserReport {
  readonly answers: number;
  readonly events: number;
  /** of the answers, ms */
  readonly times: readonly number[];
}

interface Seen {
  answers: number;
  events: number;
  times: number[];
}

const DAY_MS = 86_400_000;

/** One browser: follows the stream, and asks for something every second; no two of them for the same at once. */
async function browse(
  number: number,
  { http, sensors, days }: BrowserOrders,
  seen: Seen,
  signal: AbortSignal,
): Promise<void> {
  const sensor = `m${1 + (number % sensors)}/de`;
  const now = Date.now();
  const paths = [
    ...['motors', 'alarms?state=open', 'strips', 'gateway', 'wiring?limit=20', 'journal?limit=100'],
    `series?sensor=${sensor}&from=${now - days * DAY_MS}&to=${now}&points=2000`,
    `rollups?sensor=${sensor}&period=1m&limit=1000`,
  ];
  const following = follow(`${http}/api/v1/live`, seen, signal);
  for (let turn = number; !signal.aborted; turn++) {
    const path = paths[turn % paths.length]!;
    const begun = performance.now();
    try {
      const response = await fetch(`${http}/api/v1/${path}`, { signal });
      await response.arrayBuffer();
      if (!response.ok) throw new Error(`${path} answered ${response.status}`);
      seen.answers += 1;
      seen.times.push(Math.round(performance.now() - begun));
    } catch (error) {
      if (!signal.aborted) throw error;
    }
    if (!signal.aborted) await sleep(1_000);
  }
  await following;
}

async function follow(url: string, seen: Seen, signal: AbortSignal): Promise<void> {
  try {
    const response = await fetch(url, { signal });
    for await (const piece of response.body as unknown as AsyncIterable<Uint8Array>)
      seen.events += new TextDecoder().decode(piece).split('\nevent: ').length - 1;
  } catch (error) {
    if (!signal.aborted) throw error;
  }
}

const orders = JSON.parse(process.argv[2] ?? '') as BrowserOrders;
const seen: Seen = { answers: 0, events: 0, times: [] };
const ending = new AbortController();
process.once('SIGTERM', () => ending.abort());
await Promise.all(
  Array.from({ length: orders.browsers }, (_, number) => browse(number, orders, seen, ending.signal)),
);
process.stdout.write(`${JSON.stringify(seen satisfies BrowserReport)}\n`);
