/** What must hold in a data directory after the last crash. Every finding is a sentence; none: all is well. */
import Database from 'better-sqlite3';
import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { proveLedger, visitStored } from '../support/stored-readings.js';
import { runTallypost } from '../support/gateway-process.js';
import { ALARM_ID } from './plant.js';
import { countOf, type Publisher } from './publisher.js';

const FINDINGS_MAX = 20;

/** Reading by reading: all that were acknowledged are stored, none twice, each with its own count and pulses. */
export async function judgeReadings(
  dataDir: string,
  publishers: readonly Pick<Publisher, 'sensor' | 'acked' | 'sent'>[],
): Promise<string[]> {
  const findings: string[] = [];
  const next = new Map<string, number>();
  await visitStored(dataDir, (row) => {
    if (row.seq === null || !publishers.some(({ sensor }) => sensor === row.sensor)) return;
    const expected = next.get(row.sensor) ?? 0;
    if (row.seq < expected) findings.push(`${row.sensor}: reading ${row.seq} is stored twice`);
    if (row.seq > expected)
      findings.push(`${row.sensor}: readings ${expected} to ${row.seq - 1} are missing`);
    if (row.count !== countOf(row.seq))
      findings.push(`${row.sensor}: reading ${row.seq} has count ${row.count}`);
    const pulses = row.seq === 0 ? 0 : countOf(row.seq) - countOf(row.seq - 1);
    if (row.seq === expected && row.pulses !== pulses) {
      findings.push(`${row.sensor}: reading ${row.seq} counted ${row.pulses} pulses instead of ${pulses}`);
    }
    next.set(row.sensor, Math.max(expected, row.seq + 1));
  });
  for (const { sensor, acked, sent } of publishers) {
    const stored = next.get(sensor) ?? 0;
    if (stored < acked) findings.push(`${sensor}: ${acked} readings acknowledged, only ${stored} stored`);
    if (stored > sent) findings.push(`${sensor}: ${stored} readings stored, only ${sent} sent`);
  }
  return findings.slice(0, FINDINGS_MAX);
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
