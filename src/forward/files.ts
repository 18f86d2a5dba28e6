/**
 * The sink `files`: one file for each UTC day and stream, written anew beside the old one and renamed over it, so that a
 * reader sees either the one or the other whole. What is taken is in the file.
 */
import {
  closeSync,
  existsSync,
  fsyncSync,
  mkdirSync,
  openSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  writeSync,
} from 'node:fs';
import { dirname, join } from 'node:path';
import { columnsOf, KEY, REVISION, sumRow, toRow, type Column, type Row } from './files-columns.js';
import { readCsv, writeCsv } from './files-csv.js';
import { readParquet, writeParquet } from './files-parquet.js';
import type { Content, Manifest, Sent, Sink, SinkParts, SinkRecord } from './sink.js';

export interface FilesSettings {
  readonly kind: 'files';
  /** absolute */
  readonly folder: string;
  readonly format: 'parquet' | 'csv';
  readonly everyS: number;
}

const RECORDS_MOST = 20_000;
/** Rows of files that are kept in memory, so that the file of today need not be read each time. */
const KEPT_ROWS_MAX = 150_000;
const DAY_MS = 86_400_000;
/**
 * A file of the day is written whole for each batch, and grows all day. So new records are gathered for so many times as long as
 * the last batch took to write, up to ten minutes: at most a twentieth of the time goes into it. Our choice of both.
 */
const GATHER_SHARE = 20;
const GATHER_MOST_MS = 600_000;

interface Format {
  write(columns: readonly Column[], rows: readonly Row[]): Buffer;
  read(columns: readonly Column[], bytes: Buffer): Row[] | Promise<Row[]>;
}

const FORMATS: Readonly<Record<FilesSettings['format'], Format>> = {
  parquet: { write: writeParquet, read: readParquet },
  csv: { write: writeCsv, read: readCsv },
};

interface Kept {
  readonly rows: Map<string, Row>;
  /** of the file that the rows are those of */
  readonly stamp: string;
}

export function openFilesSink(settings: FilesSettings, parts: SinkParts): Sink {
  const folder = new DayFolder(settings);
  let isOpen = false;
  let tookMs = 0;
  const leastMs = settings.everyS * 1_000;
  return {
    recordsMost: RECORDS_MOST,
    get gatherMs() {
      return Math.max(leastMs, Math.min(GATHER_MOST_MS, GATHER_SHARE * tookMs));
    },
    open: async () => {
      await Promise.resolve();
      mkdirSync(settings.folder, { recursive: true });
      isOpen = true;
    },
    send: async (records, signal) => {
      if (!isOpen || signal.aborted) return later('it was not written');
      const startedAt = parts.steady();
      try {
        for (const [path, group] of groupByFile(records, settings)) {
          await folder.merge(path, group);
          if (signal.aborted) return later('the files could not be written within the deadline');
        }
        tookMs = parts.steady() - startedAt;
        return { outcome: 'taken' };
      } catch (error) {
        parts.log('warn', { err: String(error) }, 'a file could not be written');
        return later(error instanceof Error ? error.message : String(error));
      }
    },
    close: () => {
      isOpen = false;
      folder.forget();
      return Promise.resolve();
    },
    prepare: () => {
      const isNew = !existsSync(settings.folder);
      mkdirSync(settings.folder, { recursive: true });
      return Promise.resolve([`the folder ${settings.folder} ${isNew ? 'was created' : 'is there'}`]);
    },
    readHeld: ({ day, period }) => folder.readHeld(day, period),
  };
}

function later(reason: string): Sent {
  return { outcome: 'later', reason, retryAfterMs: null };
}

/** Alarms are states: they have one file, of now. What they were stands in the journal. */
function pathOf({ content, key, at }: SinkRecord, { folder, format }: FilesSettings): string {
  if (content.stream === 'alarms') return join(folder, 'alarms', `current.${format}`);
  const period =
    content.stream === 'rollups' || content.stream === 'manifests' ? `-${key.split('|')[1]}` : '';
  return join(folder, content.stream + period, `${nameOfDay(at)}.${format}`);
}

function nameOfDay(at: number): string {
  return new Date(at).toISOString().slice(0, 10);
}

function groupByFile(records: readonly SinkRecord[], settings: FilesSettings): Map<string, SinkRecord[]> {
  const groups = new Map<string, SinkRecord[]>();
  for (const record of records) {
    const path = pathOf(record, settings);
    const group = groups.get(path);
    if (group === undefined) groups.set(path, [record]);
    else group.push(record);
  }
  return groups;
}

class DayFolder {
  readonly #kept = new Map<string, Kept>();
  readonly #format: Format;

  constructor(private readonly settings: FilesSettings) {
    this.#format = FORMATS[settings.format];
  }

  forget(): void {
    this.#kept.clear();
  }

  /** Records of one file: what is newer than the file's own rows replaces them. */
  async merge(path: string, records: readonly SinkRecord[]): Promise<void> {
    const { stream } = records[0]!.content;
    const columns = columnsOf(stream);
    const rows = await this.#load(path, stream);
    let changed = 0;
    for (const record of records) {
      const before = rows.get(record.key);
      if (before !== undefined && (before[REVISION] as number) >= record.revision) continue;
      rows.set(record.key, toRow(record));
      changed += 1;
    }
    if (changed === 0) return;
    this.#kept.delete(path);
    const ordered = [...rows.values()].sort(compareRows);
    replaceFile(path, this.#format.write(columns, ordered));
    this.#keep(path, rows);
  }

  #keep(path: string, rows: Map<string, Row>): void {
    this.#kept.set(path, { rows, stamp: stampOf(path) });
    let sum = 0;
    for (const [other, kept] of [...this.#kept].reverse()) {
      sum += kept.rows.size;
      if (sum > KEPT_ROWS_MAX) this.#kept.delete(other);
    }
  }

  async #load(path: string, stream: Content['stream']): Promise<Map<string, Row>> {
    const kept = this.#kept.get(path);
    if (!existsSync(path)) return new Map();
    if (kept?.stamp === stampOf(path)) return kept.rows;
    const columns = columnsOf(stream);
    try {
      const rows = await this.#format.read(columns, readFileSync(path));
      return new Map(rows.map((row) => [row[KEY] as string, row]));
    } catch (error) {
      const why = error instanceof Error ? error.message : String(error);
      throw new Error(
        `${path} cannot be read (${why}): move it away, and send its day again with "sinks backfill"`,
      );
    }
  }

  async readHeld(day: number, period: Manifest['period']): Promise<Manifest[]> {
    const path = join(
      this.settings.folder,
      `rollups-${period}`,
      `${nameOfDay(day - (day % DAY_MS))}.${this.settings.format}`,
    );
    const held = new Map<string, Manifest>();
    for (const row of (await this.#load(path, 'rollups')).values()) {
      const sensor = row[2] as string;
      const before = held.get(sensor) ?? {
        sensor,
        period,
        day,
        rows: 0,
        pulses: 0,
        ms: 0,
        highestRevision: 0,
      };
      const { pulses, ms } = sumRow(row);
      held.set(sensor, {
        ...before,
        ...{ rows: before.rows + 1, pulses: before.pulses + pulses, ms: before.ms + ms },
        highestRevision: Math.max(before.highestRevision, row[REVISION] as number),
      });
    }
    return [...held.values()];
  }
}

/** By key: of rollups that is by sensor and time. Sources of other lengths of time would need more. */
function compareRows(a: Row, b: Row): number {
  const [one, other] = [String(a[KEY]), String(b[KEY])];
  return one < other ? -1 : one > other ? 1 : 0;
}

function stampOf(path: string): string {
  const { mtimeMs, size, ino } = statSync(path);
  return `${mtimeMs} ${size} ${ino}`;
}

/** Whole or not at all, also when the power goes. */
function replaceFile(path: string, bytes: Buffer): void {
  const folder = dirname(path);
  mkdirSync(folder, { recursive: true });
  // a name that no pattern for the files themselves fits
  const part = join(folder, `.${path.slice(folder.length + 1)}.part`);
  const handle = openSync(part, 'w');
  try {
    for (let written = 0; written < bytes.length;) written += writeSync(handle, bytes, written);
    fsyncSync(handle);
  } catch (error) {
    closeSync(handle);
    rmSync(part, { force: true });
    throw error;
  }
  closeSync(handle);
  renameSync(part, path);
  const parent = openSync(folder, 'r');
  try {
    fsyncSync(parent);
  } finally {
    closeSync(parent);
  }
}
