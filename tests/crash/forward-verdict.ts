/** What must hold after the crashes: the receivers' unique rows equal the store's, and the ledgers add up. */
import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { DuckDBInstance } from '@duckdb/node-api';
import { openReader } from '../../src/store/reader.js';
import { runTallypost } from '../support/gateway-process.js';

/** `<stream> <key> <revision>` of everything that was ever put out. */
export function readStored(dataDir: string): Set<string> {
  const reader = openReader(dataDir);
  const rows = new Set<string>();
  const tables = { '1m': 'rollup_1m', '10m': 'rollup_10m', '1h': 'rollup_1h' };
  for (const [period, table] of Object.entries(tables))
    for (const [sensor, start, revision] of reader.all(
      `SELECT name.text, start, revision FROM ${table} JOIN name ON name.id = sensor`,
    ))
      rows.add(`rollups ${sensor}|${period}|${start} ${revision}`);
  for (const [id] of reader.all('SELECT id FROM journal')) rows.add(`journal ${id}`);
  for (const [motor, from] of reader.all(
    'SELECT name.text, from_ms FROM transient JOIN name ON name.id = motor',
  ))
    rows.add(`transients ${motor}|${from}`);
  reader.close();
  return rows;
}

export async function readFilesHeld(folder: string): Promise<Set<string>> {
  const connection = await (await DuckDBInstance.create(':memory:')).connect();
  const held = new Set<string>();
  for (const stream of readdirSync(folder)) {
    if (!/^(rollups|journal)/.test(stream)) continue;
    const sql = `SELECT key, revision FROM read_parquet('${join(folder, stream)}/*.parquet')`;
    for (const [key, revision] of (await connection.runAndReadAll(sql)).getRows())
      held.add(nameRow(stream.split('-')[0]!, String(key), Number(revision)));
  }
  connection.closeSync();
  return held;
}

export function nameRow(stream: string, key: string, revision: number): string {
  // entries of the journal have one revision for the whole outbox, those of transients count up
  return stream === 'rollups' ? `rollups ${key} ${revision}` : `${stream} ${key}`;
}

const SHOWN = 5;

export function compareRows(name: string, stored: ReadonlySet<string>, held: ReadonlySet<string>): string[] {
  const ours = [...held].filter((row) => /^(rollups|journal|transients) /.test(row));
  const missing = [...stored].filter((row) => !held.has(row));
  const extra = ours.filter((row) => !stored.has(row));
  return [
    ...(missing.length > 0
      ? [`${name} lacks ${missing.length} of ${stored.size} rows: ${missing.slice(0, SHOWN).join('; ')}`]
      : []),
    ...(extra.length > 0
      ? [`${name} has ${extra.length} rows too many: ${extra.slice(0, SHOWN).join('; ')}`]
      : []),
  ];
}

/** `provable`: sinks that can be read back. `day`: YYYY-MM-DD. */
export async function judgeLedgers(
  { dataDir, configFile }: { readonly dataDir: string; readonly configFile: string },
  sinks: readonly string[],
  provable: readonly string[],
  day: string,
): Promise<string[]> {
  const findings: string[] = [];
  for (const sink of sinks) {
    const done = await runTallypost(['sinks', 'ledger', sink, '--data', dataDir]);
    if (done.code !== 0)
      findings.push(`the ledger of ${sink} ends with ${done.code}:\n${done.out}${done.err}`);
  }
  for (const sink of provable) {
    const place = ['--data', dataDir, '--config', configFile, '--day', day];
    const proof = await runTallypost(['sinks', 'prove', sink, ...place]);
    if (proof.code !== 0)
      findings.push(`the proof of ${sink} ends with ${proof.code}:\n${proof.out}${proof.err}`);
  }
  return findings;
}
