/** What must hold in a data directory after the last crash. Every finding is a sentence; none: all is well. */
import Database from 'better-sqlite3';
import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { proveLedger, visitStored, type StoredReading } from '../support/stored-readings.js';
import { runTallypost } from '../support/gateway-process.js';
import { ALARM_ID } from './plant.js';
import { countOf, type Publisher } from './publisher.js';

const FINDINGS_MAX = 20;

/** What a publisher knows: which readings it sent, and which of them were acknowledged. */
export type Claim = Pick<Publisher, 'sensor' | 'acked' | 'sent'>;

/** Reading by reading: all that were acknowledged are stored, none twice, each with its own count and pulses. */
export class ReadingJudge {
  readonly #next = new Map<string, number>();
  readonly #findings: string[] = [];

  constructor(private readonly claims: readonly Claim[]) {
    for (const { sensor } of claims) this.#next.set(sensor, 0);
  }

  /** Rows of one sensor come in order of time. */
  take(row: Pick<StoredReading, 'sensor' | 'seq' | 'count' | 'pulses'>): void {
    const expected = this.#next.get(row.sensor);
    if (expected === undefined || row.seq === null) return;
    const { sensor, seq } = row;
    if (seq < expected) this.#find(`${sensor}: reading ${seq} is stored twice, or out of order`);
    if (seq > expected) this.#find(`${sensor}: readings ${expected} to ${seq - 1} are missing`);
    if (row.count !== countOf(seq)) this.#find(`${sensor}: reading ${seq} has count ${row.count}`);
    const pulses = seq === 0 ? 0 : countOf(seq) - countOf(seq - 1);
    if (seq === expected && row.pulses !== pulses) {
      this.#find(`${sensor}: reading ${seq} counted ${row.pulses} pulses instead of ${pulses}`);
    }
    this.#next.set(sensor, Math.max(expected, seq + 1));
  }

  /** The findings, once all rows were taken. */
  conclude(): string[] {
    for (const { sensor, acked, sent } of this.claims) {
      const stored = this.#next.get(sensor) ?? 0;
      if (stored < acked) this.#find(`${sensor}: ${acked} readings acknowledged, only ${stored} stored`);
      if (stored > sent) this.#find(`${sensor}: ${stored} readings stored, only ${sent} sent`);
    }
    return [...this.#findings];
  }

  #find(sentence: string): void {
    if (this.#findings.length < FINDINGS_MAX) this.#findings.push(sentence);
  }
}

export async function judgeReadings(dataDir: string, claims: readonly Claim[]): Promise<string[]> {
  const judge = new ReadingJudge(claims);
  await visitStored(dataDir, (row) => judge.take(row));
  return judge.conclude();
}

/** Readings stored per sensor; for a look between two crashes. */
export async function countStored(dataDir: string): Promise<Map<string, number>> {
  const counts = new Map<string, number>();
  await visitStored(dataDir, (row) => {
    counts.set(row.sensor, (counts.get(row.sensor) ?? 0) + 1);
  });
  return counts;
}

/** SQLite's own check of every database in the directory. */
export function judgeFiles(dataDir: string): string[] {
  const findings: string[] = [];
  const files = readdirSync(dataDir).filter((name) => name.endsWith('.db'));
  if (files.length === 0) findings.push(`no database in ${dataDir}`);
  for (const name of files) {
    const db = new Database(join(dataDir, name), { readonly: true });
    const answer = db.pragma('integrity_check', { simple: true });
    db.close();
    if (answer !== 'ok') findings.push(`${name}: integrity_check says ${String(answer)}`);
  }
  const aside = readdirSync(dataDir).filter((name) => /corrupt|damaged|broken/i.test(name));
  if (aside.length > 0) findings.push(`the gateway set files aside: ${aside.join(', ')}`);
  return findings;
}

/** Balance of the ledger, by the program's own word. */
export async function judgeLedger(dataDir: string): Promise<string[]> {
  try {
    await proveLedger(dataDir);
    return [];
  } catch (error) {
    return [error instanceof Error ? error.message : String(error)];
  }
}

/** A restart tells nothing anew: the alarm was raised once and acknowledged once in its whole journal. */
export async function judgeJournal(dataDir: string): Promise<string[]> {
  const done = await runTallypost(['export', 'journal', '--data', dataDir, '--format', 'ndjson']);
  if (done.code !== 0) return [`export journal ended with ${done.code}: ${done.err}`];
  const entries = done.out
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => JSON.parse(line) as { subject: string; from: string; to: string })
    .filter(({ subject, from, to }) => subject === ALARM_ID && from !== to)
    .map(({ from, to }) => `${from} -> ${to}`);
  const expected = ['normal -> unacknowledged', 'unacknowledged -> acknowledged'];
  return entries.join('; ') === expected.join('; ')
    ? []
    : [`the journal of ${ALARM_ID} reads: ${entries.join('; ')}`];
}
