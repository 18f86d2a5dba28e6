/** Reads condition bins: of rollups that were read, and hour by hour for comparing like with like. */
import type { BinSum, RollupAdd } from '../core/rows.js';
import { FIRST, LAST } from './page.js';
import type { ReadConnection } from './read-connection.js';
import { BIN_TABLES, sortBins, type RollupRow } from './rollup-row.js';

/** What one sensor counted in one bin in one hour. */
export interface BinHour extends BinSum {
  start: number;
}

/** Gives rollups of one sensor, in order of time, their bins. `id`: of the sensor. */
export function addBins(
  reader: ReadConnection,
  id: number,
  period: RollupAdd['period'],
  rows: readonly RollupRow[],
): void {
  const first = rows[0];
  const last = rows[rows.length - 1];
  if (first === undefined || last === undefined) return;
  const found = new Map<number, BinSum[]>();
  for (const { start, ...sum } of readBinRows(reader, id, period, first.start, last.start + 1)) {
    const bins = found.get(start);
    if (bins === undefined) found.set(start, [sum]);
    else bins.push(sum);
  }
  for (const row of rows) row.bins = sortBins(row, found.get(row.start) ?? []);
}

function readBinRows(
  reader: ReadConnection,
  id: number,
  period: RollupAdd['period'],
  from: number,
  to: number,
): BinHour[] {
  const rows = reader.all(
    `SELECT start, text, pulses, ms FROM ${BIN_TABLES[period]} JOIN name ON name.id = bin
     WHERE sensor = ? AND start >= ? AND start < ? AND (pulses <> 0 OR ms <> 0) ORDER BY start, text`,
    id,
    from,
    to,
  ) as [number, string, number, number][];
  return rows.map(([start, bin, pulses, ms]) => ({ start, bin, pulses, ms }));
}

/**
 * Running pulses and milliseconds of a sensor by hour and bin, `all` among them, in order of (start, bin); hours that are
 * not over yet are no part of it. `from` inclusive, `to` exclusive; null: unbounded.
 */
export function readBinHours(
  reader: ReadConnection,
  query: { sensor: string; from: number | null; to: number | null },
): BinHour[] {
  return reader
    .sensorIds(query.sensor)
    .flatMap(({ id }) => readBinRows(reader, id, '1h', query.from ?? FIRST, query.to ?? LAST));
}
