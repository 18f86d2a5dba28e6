/** Reads the published values and compares with them. */
import { readFileSync } from 'node:fs';
import { expect } from 'vitest';

export interface PublishedRecord<I, E> {
  id: string;
  checks: string;
  source: string;
  notes: string;
  inputs: I;
  expected: E;
  tolerance_abs: number | null | Partial<Record<keyof E, number>>;
  tolerance_rel?: number;
}

const file = new URL('./published.json', import.meta.url);
const records = JSON.parse(readFileSync(file, 'utf8')) as PublishedRecord<unknown, unknown>[];

/** The record of that id; I and E describe its inputs and expected fields. Throws when there is none. */
export function takeRecord<I, E>(id: string): PublishedRecord<I, E> {
  const found = records.find((record) => record.id === id);
  if (found === undefined) throw new Error(`published.json has no record ${id}`);
  return found as PublishedRecord<I, E>;
}

/** The name of a test: what is checked, and who printed it. */
export function title(record: PublishedRecord<unknown, unknown>): string {
  return `${record.id}: ${record.checks} [source: ${record.source}]`;
}

/** Expects the value within the record's tolerance for that field. */
export function expectField<I, E>(
  record: PublishedRecord<I, E>,
  field: keyof E & string,
  found: number | readonly number[],
): void {
  const wanted: number[] = [record.expected[field] as number | number[]].flat();
  const values: number[] = [found].flat();
  expect(values.length, `${record.id} ${field}: number of values`).toBe(wanted.length);
  const absolute =
    typeof record.tolerance_abs === 'number' ? record.tolerance_abs : record.tolerance_abs?.[field];
  wanted.forEach((value, i) => {
    const allowed = absolute ?? Math.abs(value) * (record.tolerance_rel ?? 0);
    const off = Math.abs(values[i]! - value);
    expect(off, `${record.id} ${field}[${i}]: ${values[i]} against ${value}`).toBeLessThanOrEqual(allowed);
  });
}

/** A table of frequencies: `frequency_of_k[i]` counts of `k[i]`. */
export interface Frequencies {
  frequency_of_k: number[];
  k: number[];
}

/** The counts one by one, the smallest first. */
export function unfoldCounts({ frequency_of_k, k }: Frequencies): number[] {
  return k.flatMap((count, i) => new Array<number>(frequency_of_k[i]!).fill(count));
}
