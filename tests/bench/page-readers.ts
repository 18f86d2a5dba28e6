/**
 * What ten browsers cost whoever waits for an acknowledgement: the same load on one gateway with a year of rollups, in turns with
 * and without readers that follow the live stream, draw a year, and ask for lists. Browsers are on other machines: here they
 * are a process with niceness 19 (`browsers.ts`), so that what is measured is what the gateway does for them. One turn more goes
 * before all, with readers, told and not counted.
 */
import Database from 'better-sqlite3';
import { join } from 'node:path';
import { startGatewayProcess } from '../support/gateway-process.js';
import { startChild, stopChild } from '../support/child.js';
import { builtFile } from '../support/repository.js';
import { SUM_COLUMNS } from '../../src/store/schema.js';
import { openStore } from '../../src/store/store.js';
import { FILE_NAME } from '../../src/store/open.js';
import type { BrowserOrders, BrowserReport } from './browsers.js';
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
  /** answers to the readers, and events that they heard, in all turns */
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
    // the first turn, with readers, is told and not counted: threads start, and everything is compiled once in the life of a gateway
    for (let turn = -1; turn < 2 * wishes.rounds; turn++) {
      // each pair begins with the other one
      const isRead = turn < 0 || turn % 4 === 1 || turn % 4 === 2;
      const { browsers, sensors, days } = wishes;
      const readers = isRead ? startBrowsers({ http: gateway.http, browsers, sensors, days }) : null;
      const load = await runLoad(wishes.program, {
        ...{ port: gateway.mqttPort, site: SITE, connections, window: 1, driveStates: true },
        ...{ seconds: wishes.seconds, warmupSeconds: 1, perSecond: wishes.perSecond },
      });
      const report = await readers?.stop();
      const what = turn < 0 ? 'first, not counted, with' : isRead ? 'with' : 'without';
      wishes.tell(`${what} readers: p50 ${load.p50Us} us, p99 ${load.p99Us} us`);
      if (report !== undefined) {
        const { answers, events, times } = report;
        seen.answers += answers;
        seen.events += events;
        if (turn >= 0) seen.times.push(...times);
      }
      if (turn < 0) continue;
      all[isRead ? 'with' : 'without'].push(load);
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

function startBrowsers(orders: BrowserOrders): { stop(): Promise<BrowserReport> } {
  const program = [process.execPath, builtFile('tests/bench/browsers.js'), JSON.stringify(orders)];
  const child = startChild('nice', ['-n', '19', ...program]);
  return {
    stop: async () => {
      await stopChild(child);
      const line = child.said().trimEnd().split('\n').at(-1) ?? '';
      if (!line.startsWith('{"answers"')) throw new Error(`the browsers failed:\n${child.said()}`);
      return JSON.parse(line) as BrowserReport;
    },
  };
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
