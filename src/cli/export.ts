/** `tallypost export`: tables of the store as text, streamed in pages; columns stand in docs/export.md. */
import type { Period } from '../core/words.js';
import type { ReadStore } from '../store/reader.js';
import {
  type Arguments,
  type Command,
  Exit,
  flagOf,
  optionalTextOf,
  type Terminal,
  textOf,
  UsageError,
} from './command.js';
import { DATA_OPTION } from './config-argument.js';
import {
  ALARM_COLUMNS,
  FINAL_ROLLUP_COLUMNS,
  INCREMENT_COLUMNS,
  isEmptyRollup,
  JOURNAL_COLUMNS,
  ROLLUP_COLUMNS,
  spreadTransient,
  TRANSIENT_COLUMNS,
} from './export-columns.js';
import { ACTION_COLUMNS, FINDING_COLUMNS } from './export-entries.js';
import { orderIncrements } from './export-order.js';
import { pageAll } from './export-pages.js';
import { type Column, type Format, writeHeader, writeRows } from './table-text.js';
import { rangeOf } from './time-argument.js';

const FIRST = Number.MIN_SAFE_INTEGER;
const LAST = Number.MAX_SAFE_INTEGER;

const TABLES = ['rollups', 'increments', 'transients', 'alarms', 'journal', 'actions', 'findings'] as const;
type Table = (typeof TABLES)[number];

interface ExportQuery {
  readonly sensor: string | null;
  readonly from: number | null;
  readonly to: number | null;
  readonly period: Period;
  readonly isFinal: boolean;
}

export const exportCommand: Command = {
  name: 'export',
  summary: 'write a table of the store as NDJSON or CSV',
  about:
    'Streams a table of the store to standard output, in a fixed order with documented columns. Two stores with the\n' +
    'same final state export the same bytes. May run while the gateway runs.',
  options: {
    data: DATA_OPTION,
    period: {
      type: 'string',
      value: 'PERIOD',
      about: 'of rollups; 1m unless given',
      oneOf: ['10s', '1m', '10m', '1h'],
    },
    sensor: {
      type: 'string',
      value: 'M/P',
      about: 'only this sensor; of transients, what it counted; of actions and findings, its motor',
    },
    from: { type: 'string', value: 'TIME', about: 'earliest time, included' },
    to: { type: 'string', value: 'TIME', about: 'latest time, not included' },
    format: { type: 'string', value: 'FORMAT', about: 'ndjson unless given', oneOf: ['ndjson', 'csv'] },
    final: {
      type: 'boolean',
      about: 'leave out the revision of rollups, which tells only in which order messages came',
    },
  },
  positionals: [
    {
      name: 'TABLE',
      about: 'rollups, increments, transients, alarms, journal, actions or findings',
      least: 1,
      most: 1,
      oneOf: TABLES,
    },
  ],
  examples: [
    'tallypost export rollups --data data --period 1h --format csv > rollups.csv',
    'tallypost export increments --data data --sensor pump-1/de --from 2026-03-02T06:00:00Z',
  ],
  async run(args, terminal) {
    const { openReader } = await import('../store/reader.js');
    const query: ExportQuery = {
      sensor: optionalTextOf(args, 'sensor'),
      ...rangeOf(args),
      period: textOf(args, 'period', '1m') as Period,
      isFinal: flagOf(args, 'final'),
    };
    const reader = openReader(textOf(args, 'data'));
    try {
      const { sensor } = query;
      if (sensor !== null && !reader.sensors().some((row) => row.sensor === sensor))
        throw new UsageError(
          `There are no readings of ${sensor} in ${textOf(args, 'data')}.`,
          'Check the name.',
        );
      await exportTable(reader, args, query, terminal);
    } finally {
      reader.close();
    }
    return Exit.ok;
  },
};

async function exportTable(
  reader: ReadStore,
  args: Arguments,
  query: ExportQuery,
  terminal: Terminal,
): Promise<void> {
  const format = textOf(args, 'format', 'ndjson') as Format;
  const write = async <T>(columns: readonly Column<T>[], pages: Iterable<readonly T[]>): Promise<void> => {
    await terminal.out(writeHeader(columns, format));
    for (const page of pages) await terminal.out(writeRows(page, columns, format));
  };
  switch (args.positionals[0] as Table) {
    case 'increments':
      return write(INCREMENT_COLUMNS, orderIncrements(reader.increments(query)));
    case 'rollups':
      return write(query.isFinal ? FINAL_ROLLUP_COLUMNS : ROLLUP_COLUMNS, pageRollups(reader, query));
    case 'transients':
      return write(TRANSIENT_COLUMNS, pageTransients(reader, query));
    case 'alarms':
      return write(ALARM_COLUMNS, [
        reader
          .alarms()
          .filter((alarm) => query.sensor === null || alarm.sensor === query.sensor)
          .filter((alarm) => isWithin(alarm.since, query)),
      ]);
    case 'actions':
      return write(
        ACTION_COLUMNS,
        pageAll((place) => reader.actions({ ...query, ...place, motor: motorOf(query) })),
      );
    case 'findings':
      return write(
        FINDING_COLUMNS,
        pageAll((place) => reader.findings({ ...query, ...place, motor: motorOf(query) })),
      );
    case 'journal':
      return write(
        JOURNAL_COLUMNS,
        pageAll((place) => reader.journal({ ...query, ...place })),
      );
  }
}

/** Motor of the sensor that is asked for; null: all. */
function motorOf({ sensor }: ExportQuery): string | null {
  return sensor?.split('/')[0] ?? null;
}

/** An alarm that was never raised has no time and belongs to no range but the unbounded one. */
function isWithin(time: number | null, { from, to }: ExportQuery): boolean {
  if (time === null) return from === null && to === null;
  return time >= (from ?? FIRST) && time < (to ?? LAST);
}

function* pageRollups(reader: ReadStore, query: ExportQuery) {
  for (const rows of pageAll((place) => reader.rollups({ ...query, ...place }))) {
    yield rows.filter((row) => !isEmptyRollup(row));
  }
}

function* pageTransients(reader: ReadStore, query: ExportQuery) {
  const motor = motorOf(query);
  for (const rows of pageAll((place) => reader.transients({ ...query, ...place, motor }))) {
    yield rows
      .filter((row) => isWithin(row.from, query))
      .flatMap(spreadTransient)
      .filter((line) => query.sensor === null || line.sensor === query.sensor);
  }
}
