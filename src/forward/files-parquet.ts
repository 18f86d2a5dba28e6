/** Rows to a Parquet file and back. */
import { parquetReadObjects } from 'hyparquet';
import { parquetWriteBuffer } from 'hyparquet-writer';
import type { Cell, Column, ColumnType, Row } from './files-columns.js';

const TYPES = {
  text: 'STRING',
  int: 'INT64',
  time: 'TIMESTAMP',
  flag: 'BOOLEAN',
  json: 'STRING',
} as const satisfies Record<ColumnType, string>;

/** Units stand in the file too, as `unit:<column>` in its metadata. */
export function writeParquet(columns: readonly Column[], rows: readonly Row[]): Buffer {
  const buffer = parquetWriteBuffer({
    columnData: columns.map(({ name, type }, index) => ({
      name,
      type: TYPES[type],
      data: rows.map((row) => toParquet(type, row[index] ?? null)),
    })),
    kvMetadata: columns.flatMap(({ name, unit }) =>
      unit === '' ? [] : [{ key: `unit:${name}`, value: unit }],
    ),
  });
  return Buffer.from(buffer);
}

function toParquet(type: ColumnType, cell: Cell): unknown {
  if (cell === null) return null;
  if (type === 'int') return BigInt(cell);
  return type === 'time' ? new Date(cell as number) : cell;
}

/** Columns that the file has not are null. */
export async function readParquet(columns: readonly Column[], bytes: Buffer): Promise<Row[]> {
  const file = bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.length) as ArrayBuffer;
  const objects = (await parquetReadObjects({ file })) as Record<string, unknown>[];
  return objects.map((object) => columns.map(({ name }) => fromParquet(object[name])));
}

function fromParquet(value: unknown): Cell {
  if (value === undefined || value === null) return null;
  if (typeof value === 'bigint') return Number(value);
  return value instanceof Date ? value.getTime() : (value as Cell);
}
