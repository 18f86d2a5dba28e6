/**
 * What ten browsers cost whoever waits for an acknowledgement: the same load on one gateway with a year of rollups, in turns with
 * and without readers that follow the live stream, draw a year, and ask for lists.
 */
import Database from 'better-sqlite3';
import { join } from 'node:path';
import { startGatewayProcess } from '../support/gateway-process.js';
import { sleep } from '../support/child.js';
import { SUM_COLUMNS } from '../../src/store/schema.js';
import { openStore } from '../../src/store/store.js';
import { FILE_NAME } from '../../src/store/open.js';
import { runLoad } from './load.js';
import { writePlantFile } from './plant-file.js';
import { median } from './spread.js';

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
const SITE = 'bench';

export interface ReaderWishes {
  readonly folder: string;
  /** the compiled load generator */
  readonly program: string;
  readonly browsers: number;
  /** sensors that have so many days of rollups */
  readonly sensors: number;
  readonly days: number;
  readonly rounds: number;
  readonly seconds: number;
  readonly connections: number;
  readonly perSecond: number;
  tell(line: string): void;
}

export interface ReaderResult {
  readonly rows: number;
  readonly p99Us: { readonly without: number; readonly with: number };
  readonly p50Us: { readonly without: number; readonly with: number };
  /** of the p99, round by round */
  readonly ratios: readonly number[];
  readonly ratio: number;
  /** answers to the readers, and events that they heard */
  readonly answers: number;
  readonly events: number;
  /** of the answers, ms */
  readonly answerMs: { readonly median: number; readonly worst: number };
}

export async function measureReaders(wishes: ReaderWishes): Promise<ReaderResult> {
  const { folder, connections } = wishes;
  const dataDir = join(folder, 'data');
  const rows = fillYear(dataDir, wishes);
  const configFile = writePlantFile(folder, { site: SITE, motors: connections, intervalMs: 10_000 });
  const gateway = await startGatewayProcess({ configFile, dataDir });
  const seen = { answers: 0, events: 0, times: [] as number[] };
  const all = {
    without: [] as { p50Us: number; p99Us: number }[],
    with: [] as { p50Us: number; p99Us: number }[],
  };
  try {
    for (let turn = 0; turn < 2 * wishes.rounds; turn++) {
      // each pair begins with the other one
      const isRead = turn % 4 === 1 || turn % 4 === 2;
      const ending = new AbortController();
      const readers = isRead
        ? Array.from({ length: wishes.browsers }, (_, i) =>
            browse(gateway.http, i, wishes, seen, ending.signal),
          )
        : [];
      const load = await runLoad(wishes.program, {
        ...{ port: gateway.mqttPort, site: SITE, connections, window: 1, driveStates: true },
        ...{ seconds: wishes.seconds, warmupSeconds: 1, perSecond: wishes.perSecond },
      });
      ending.abort();
      await Promise.all(readers);
      all[isRead ? 'with' : 'without'].push(load);
      wishes.tell(`${isRead ? 'with' : 'without'} readers: p50 ${load.p50Us} us, p99 ${load.p99Us} us`);
    }
  } finally {
    await gateway.stop();
  }
  const ratios = all.with.map((load, round) => load.p99Us / all.without[round]!.p99Us);
  const middle = (key: 'with' | 'without', of: 'p50Us' | 'p99Us') => median(all[key].map((load) => load[of]));
  return {
    rows,
    p99Us: { without: middle('without', 'p99Us'), with: middle('with', 'p99Us') },
    p50Us: { without: middle('without', 'p50Us'), with: middle('with', 'p50Us') },
    ...{ ratios, ratio: median(ratios), answers: seen.answers, events: seen.events },
    answerMs: { median: median(seen.times), worst: Math.max(0, ...seen.times) },
  };
}

/** Minutes, ten minutes and hours of running at a steady rate; how many rows. */
function fillYear(dataDir: string, { sensors, days }: ReaderWishes): number {
  openStore(dataDir).close();
  const db = new Database(join(dataDir, FILE_NAME));
  const columns = SUM_COLUMNS.map((name) => (name === 'p6' ? '?' : name === 'm6' ? '?' : '0'));
  const end = Math.floor(Date.now() / (60 * MINUTE_MS)) * 60 * MINUTE_MS;
  let rows = 0;
  db.transaction(() => {
    for (let sensor = 1; sensor <= sensors; sensor++) {
      const { lastInsertRowid: id } = db.prepare('INSERT INTO name (text) VALUES (?)').run(`m${sensor}/de`);
      for (const [table, ms] of [
        ['rollup_1m', MINUTE_MS],
        ['rollup_10m', 10 * MINUTE_MS],
        ['rollup_1h', 60 * MINUTE_MS],
      ] as const) {
        const insert = db.prepare(`INSERT INTO ${table} VALUES (?, ?, 0, ${columns.join(', ')})`);
        for (let start = end - days * DAY_MS; start < end; start += ms) {
          insert.run(id, start, Math.round((ms / MINUTE_MS) * (20 + ((start / MINUTE_MS) % 7))), ms);
          rows += 1;
        }
      }
    }
  })();
  db.close();
  return rows;
}

/** One browser: follows the stream, and asks for something every second; no two of them for the same at once. */
async function browse(
  http: string,
  number: number,
  { sensors, days }: ReaderWishes,
  seen: { answers: number; events: number; times: number[] },
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
      seen.times.push(performance.now() - begun);
    } catch (error) {
      if (!signal.aborted) throw error;
    }
    if (!signal.aborted) await sleep(1_000);
  }
  await following;
}

async function follow(url: string, seen: { events: number }, signal: AbortSignal): Promise<void> {
  try {
    const response = await fetch(url, { signal });
    for await (const piece of response.body as unknown as AsyncIterable<Uint8Array>)
      seen.events += new TextDecoder().decode(piece).split('\nevent: ').length - 1;
  } catch (error) {
    if (!signal.aborted) throw error;
  }
}

export function formatReaders({
  rows,
  p99Us,
  p50Us,
  ratio,
  ratios,
  answers,
  events,
  answerMs,
}: ReaderResult): string {
  const round = (value: number): string => value.toFixed(2);
  return [
    `browsers beside the intake, ${rows} rollups stored`,
    `acknowledge p50 ${p50Us.without} us without, ${p50Us.with} us with; p99 ${p99Us.without} us without, ${p99Us.with} us with`,
    `ratio of the p99: ${round(ratio)} (${ratios.map(round).join(', ')})`,
    `${answers} answers, median ${answerMs.median.toFixed(0)} ms, worst ${answerMs.worst.toFixed(0)} ms; ${events} live events`,
  ].join('\n');
}
