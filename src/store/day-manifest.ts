/** What a UTC day of one sensor and period holds: the store's side of the proof that nothing is missing. */
import type { StoredPeriod } from './outbox-streams.js';
import type { ReadStore } from './reader.js';
import { DAY_MS, ROLLUP_TABLES } from './rollup-row.js';

export interface DayManifest {
  readonly sensor: string;
  readonly period: StoredPeriod;
  /** midnight UTC, ms */
  readonly day: number;
  readonly rows: number;
  /** all seven classes */
  readonly pulses: number;
  /** all seven classes, milliseconds */
  readonly ms: number;
  readonly highestRevision: number;
}

const CLASSES = [1, 2, 3, 4, 5, 6, 7];
const SUMS = ['p', 'm']
  .map((letter) => `sum(${CLASSES.map((c) => letter + String(c)).join(' + ')})`)
  .join(', ');

/** `id`: of the sensor. Null: the day has no row. */
export function readDayManifest(
  reader: ReadStore,
  { id, sensor }: { readonly id: number; readonly sensor: string },
  period: StoredPeriod,
  day: number,
): DayManifest | null {
  const [cells] = reader.all(
    `SELECT count(*), ${SUMS}, max(revision) FROM ${ROLLUP_TABLES[period]} WHERE sensor = ? AND start >= ? AND start < ?`,
    id,
    day,
    day + DAY_MS,
  ) as [[number, number, number, number]];
  const [rows, pulses, ms, highestRevision] = cells;
  return rows === 0 ? null : { sensor, period, day, rows, pulses, ms, highestRevision };
}

/** Of every sensor that has rows on that day, in alphabetical order. */
export function readDayManifests(reader: ReadStore, period: StoredPeriod, day: number): DayManifest[] {
  return reader.sensorIds(null).flatMap(({ id, key }) => {
    const manifest = readDayManifest(reader, { id, sensor: key }, period, day);
    return manifest === null ? [] : [manifest];
  });
}
