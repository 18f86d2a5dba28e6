/** Entries of the outbox with what they refer to, as it is stored at the moment of reading. */
import { completeAlarm } from '../core/alarm.js';
import type { AlarmRecord, JournalEntry } from '../core/alarm-rows.js';
import type { BinSum, Transient } from '../core/rows.js';
import { readDayManifest, type DayManifest } from './day-manifest.js';
import { REMOVED, type OutboxStream } from './outbox-streams.js';
import { readJournal, toEntry } from './read-journal.js';
import { toCursor } from './page.js';
import type { ReadStore } from './reader.js';
import { BIN_TABLES, ROLLUP_TABLES, sortBins, toSums, type RollupRow } from './rollup-row.js';
import { toTransient, TRANSIENT_COLUMNS } from './row-shapes.js';
import { SUM_COLUMNS } from './schema.js';
import type { Cells } from './statements.js';

/** `row` null: the transient was removed, and receivers drop theirs. */
export type OutboxContent =
  | { readonly stream: 'rollups'; readonly row: RollupRow }
  | { readonly stream: 'transients'; readonly row: Transient | null }
  | { readonly stream: 'alarms'; readonly row: AlarmRecord }
  | { readonly stream: 'journal'; readonly row: JournalEntry }
  | { readonly stream: 'manifests'; readonly row: DayManifest };

export interface OutboxEntry {
  readonly code: number;
  readonly position: number;
  /** id of its name */
  readonly subject: number;
  readonly name: string;
  readonly start: number;
  /** when it was entered, ms */
  readonly at: number;
  /** of the stored row now; of what has none of its own, the position */
  readonly revision: number;
  /** superseded: a later entry tells of the same. gone: the store does not hold it any more */
  readonly content: OutboxContent | 'superseded' | 'gone';
}

export interface OutboxRange {
  /** exclusive */
  readonly after: number;
  /** inclusive */
  readonly to: number;
  readonly limit: number;
}

const PLACE = 'o.position, o.subject, o.start, o.revision, o.at';
const RANGE = 'o.stream = ? AND o.position > ? AND o.position <= ? ORDER BY o.position LIMIT ?';
const LATER = `EXISTS (SELECT 1 FROM outbox l WHERE l.stream = o.stream AND l.stream >= 4 AND l.subject = o.subject
  AND l.start = o.start AND l.position > o.position)`;

/** In the order of their positions. `nameOf`: spells a subject. */
export function readOutbox(
  reader: ReadStore,
  stream: OutboxStream,
  range: OutboxRange,
  nameOf: (id: number) => string,
): OutboxEntry[] {
  const { code, period } = stream;
  if (stream.stream === 'rollups' && period !== null)
    return readRollupEntries(reader, code, period, range, nameOf);
  const { after, to, limit } = range;
  const rows = reader.all(`SELECT ${PLACE}, ${LATER} FROM outbox o WHERE ${RANGE}`, code, after, to, limit);
  return rows.map((cells) => {
    const [position, subject, start, revision, at, isLater] = cells as number[];
    const base = { code, position: position!, subject: subject!, start: start!, at: at! };
    const name = nameOf(base.subject);
    const content =
      isLater === 1
        ? 'superseded'
        : (readContent(reader, stream, { ...base, name, mark: revision! }) ?? 'gone');
    return { ...base, name, revision: base.position, content };
  });
}

interface Place {
  readonly subject: number;
  readonly name: string;
  readonly start: number;
  readonly mark: number;
}

function readContent(reader: ReadStore, stream: OutboxStream, place: Place): OutboxContent | null {
  const { subject, name, start, mark } = place;
  switch (stream.stream) {
    case 'transients':
      return mark === REMOVED
        ? { stream: 'transients', row: null }
        : readTransient(reader, subject, name, start);
    case 'alarms':
      return readAlarm(reader, name);
    case 'journal':
      return readEntry(reader, start);
    case 'manifests': {
      const row = readDayManifest(reader, { id: subject, sensor: name }, stream.period!, start);
      return row === null ? null : { stream: 'manifests', row };
    }
    case 'rollups':
      throw new Error('rollups are read many at a time');
  }
}

function readTransient(reader: ReadStore, id: number, motor: string, start: number): OutboxContent | null {
  const [cells] = reader.all(
    `SELECT ${TRANSIENT_COLUMNS} FROM transient WHERE motor = ? AND from_ms = ?`,
    id,
    start,
  );
  return cells === undefined ? null : { stream: 'transients', row: toTransient(motor, cells) };
}

export function readAlarm(reader: ReadStore, id: string): OutboxContent | null {
  const json = reader.value('SELECT json FROM alarm WHERE id = ?', id) as string | null;
  if (json === null) return null;
  return { stream: 'alarms', row: completeAlarm(JSON.parse(json) as AlarmRecord) };
}

function readEntry(reader: ReadStore, id: number): OutboxContent | null {
  const [row] = readJournal(reader, { from: null, to: null, limit: 1, cursor: toCursor(id - 1) }).items;
  return row?.id === id ? { stream: 'journal', row: toEntry(row) } : null;
}

function readRollupEntries(
  reader: ReadStore,
  code: number,
  period: '1m' | '10m' | '1h',
  { after, to, limit }: OutboxRange,
  nameOf: (id: number) => string,
): OutboxEntry[] {
  const rows = reader.all(
    `SELECT ${PLACE}, r.revision, ${SUM_COLUMNS.map((column) => `r.${column}`).join(', ')} FROM outbox o
     LEFT JOIN ${ROLLUP_TABLES[period]} r ON r.sensor = o.subject AND r.start = o.start WHERE ${RANGE}`,
    code,
    after,
    to,
    limit,
  );
  const last = rows[rows.length - 1]?.[0] as number | undefined;
  if (last === undefined) return [];
  const bins = readBinsOf(reader, code, period, after, last);
  return rows.map((cells) => {
    const [position, subject, start, entered, at, stored] = cells as (number | null)[] as number[];
    const base = { code, position: position!, subject: subject!, start: start!, at: at! };
    const name = nameOf(base.subject);
    if (cells[5] === null) return { ...base, name, revision: entered!, content: 'gone' };
    // each change of a row is entered with the revision that it has then
    if (stored! > entered!) return { ...base, name, revision: stored!, content: 'superseded' };
    const row = toRollup(cells, name, period, bins.get(base.position) ?? []);
    return { ...base, name, revision: stored!, content: { stream: 'rollups', row } };
  });
}

function toRollup(cells: Cells, sensor: string, period: '1m' | '10m' | '1h', bins: BinSum[]): RollupRow {
  const row = {
    ...{ sensor, period, start: cells[2] as number, revision: cells[5] as number },
    ...toSums(cells as number[], 6),
  };
  return { ...row, bins: sortBins(row, bins) };
}

function readBinsOf(
  reader: ReadStore,
  code: number,
  period: '1m' | '10m' | '1h',
  after: number,
  to: number,
): Map<number, BinSum[]> {
  const found = new Map<number, BinSum[]>();
  const rows = reader.all(
    `SELECT o.position, n.text, b.pulses, b.ms FROM outbox o
     CROSS JOIN ${BIN_TABLES[period]} b ON b.sensor = o.subject AND b.start = o.start JOIN name n ON n.id = b.bin
     WHERE o.stream = ? AND o.position > ? AND o.position <= ?`,
    code,
    after,
    to,
  ) as [number, string, number, number][];
  for (const [position, bin, pulses, ms] of rows) {
    const sums = found.get(position);
    if (sums === undefined) found.set(position, [{ bin, pulses, ms }]);
    else sums.push({ bin, pulses, ms });
  }
  return found;
}
