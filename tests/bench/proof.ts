/**
 * Proof that a fast gateway was also a right one: every acknowledged reading is stored once, with its own count, and the
 * ledger balances. The hash covers the part of the result that is the same in every run.
 */
import { createHash } from 'node:crypto';
import { visitStored, proveLedger } from '../support/stored-readings.js';
import type { LoadReport } from './load.js';

export interface Proof {
  readonly stored: number;
  /** of sensor, seq, count and pulses of the first readings of every sensor */
  readonly hash: string;
  /** how many readings of each sensor the hash covers */
  readonly hashed: number;
}

/** The count that the load generator gives reading `seq`. */
export function countAt(seq: number): number {
  const n = seq + 1;
  const rest = n % 3;
  return n + 3 * Math.floor(n / 3) + (rest === 2 ? 1 : 0);
}

/** Throws on the first reading that is missing, doubled or wrong. Memory: a number per sensor. */
export async function proveStored(dataDir: string, load: LoadReport, hashedMost: number): Promise<Proof> {
  const hashed = Math.min(hashedMost, ...load.acked);
  const next = new Map<string, number>();
  const heads = new Map<string, string[]>();
  let stored = 0;
  await visitStored(dataDir, (row) => {
    const seq = next.get(row.sensor) ?? 0;
    if (row.seq !== seq) throw new Error(`${row.sensor}: reading ${seq} expected, reading ${row.seq} stored`);
    if (row.count !== countAt(seq))
      throw new Error(
        `${row.sensor}: reading ${seq} was sent with ${countAt(seq)}, stored with ${row.count}`,
      );
    const pulses = seq === 0 ? 0 : row.count - countAt(seq - 1);
    if (row.pulses !== pulses)
      throw new Error(`${row.sensor}: reading ${seq} counted ${row.pulses} pulses instead of ${pulses}`);
    next.set(row.sensor, seq + 1);
    stored += 1;
    if (seq >= hashed) return;
    const head = heads.get(row.sensor) ?? [];
    head.push(`${row.sensor} ${row.seq} ${row.count} ${row.pulses}`);
    heads.set(row.sensor, head);
  });
  load.acked.forEach((acked, index) => {
    const sensor = `m${index + 1}/de`;
    const there = next.get(sensor) ?? 0;
    if (there !== acked) throw new Error(`${sensor}: ${acked} readings acknowledged, ${there} stored`);
  });
  await proveLedger(dataDir);
  const hash = createHash('sha256');
  for (const sensor of [...heads.keys()].sort()) hash.update(`${heads.get(sensor)!.join('\n')}\n`);
  return { stored, hash: hash.digest('hex').slice(0, 16), hashed };
}
