/**
 * Reading while the gateway writes: a connection of its own, read-only. Each query is short and read to its end at once,
 * so that no reader ever pins the WAL or holds up a commit; what is long comes in pages.
 */
import Database from 'better-sqlite3';
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import type { Finding, MaintenanceAction } from '../core/maintenance-rows.js';
import { countTime, type CountQuery, type TimedCount } from '../core/timed-count.js';
import type { AlarmRecord, JournalEntry } from '../core/alarm-rows.js';
import type { Chain, DriveRow, Segment, Transient } from '../core/rows.js';
import { FILE_NAME } from './open.js';
import type { Page, PageQuery } from './page.js';
import { ReadConnection } from './read-connection.js';
import { readIncrements, type IncrementQuery, type IncrementRecord } from './read-increments.js';
import { readBearingLives, type CountedLife } from './read-bearing-lives.js';
import { readCount } from './read-count.js';
import { readJournal, toEntry, type JournalQuery, type JournalRow } from './read-journal.js';
import { readActions, readFindings, type EntryQuery } from './read-maintenance.js';
import {
  readAlarms,
  readDiagnostics,
  readQuarantine,
  readTransients,
  type DiagnosticRow,
  type QuarantineEntry,
} from './read-records.js';
import { readRollups, type RollupQuery } from './read-rollups.js';
import type { RollupRow } from './rollup-row.js';
import {
  DRIVE_COLUMNS,
  SEGMENT_COLUMNS,
  toDrive,
  toSegment,
  toTransient,
  TRANSIENT_COLUMNS,
} from './row-shapes.js';
import { SCHEMA_VERSION } from './schema.js';
import { StoreError, toStoreError } from './store-error.js';

export type { IncrementRecord, Page, PageQuery };

export class ReadStore extends ReadConnection {
  sensors(): { sensor: string; device: string | null; lastReadingAt: number | null }[] {
    return this.sensorIds(null).map(({ id, key }) => {
      const [row] = this.all(
        'SELECT i.to_ms, c.device FROM increment i JOIN chain c ON c.id = i.chain WHERE i.sensor = ? ORDER BY i.to_ms DESC LIMIT 1',
        id,
      ) as [number, string][];
      return { sensor: key, device: row?.[1] ?? null, lastReadingAt: row?.[0] ?? null };
    });
  }

  /** A sensor's counters, oldest first. */
  chains(sensor: string): Chain[] {
    return this.sensorIds(sensor).flatMap(({ id }) =>
      this.all('SELECT id, device, boot FROM chain WHERE sensor = ? ORDER BY id', id).map((cells) => ({
        id: cells[0] as number,
        sensor,
        device: cells[1] as string,
        boot: cells[2] as number | null,
      })),
    );
  }

  /** A sensor's segments, in order of time. */
  segments(sensor: string): Segment[] {
    return this.sensorIds(sensor).flatMap(({ id }) =>
      this.all(
        `SELECT ${SEGMENT_COLUMNS} FROM segment WHERE sensor = ? ORDER BY start_to, chain, start_seq`,
        id,
      ).map((cells) => toSegment(sensor, cells)),
    );
  }

  /** The drive message in force of every motor that has one. */
  drives(): (DriveRow & { absentFrom: number | null })[] {
    return this.all(
      `SELECT ${DRIVE_COLUMNS}, (SELECT min(p.at) FROM drive_presence p
         WHERE p.motor = name.id AND p.online = 0 AND p.at >= drive_message.at), name.text FROM name JOIN drive_message ON motor = name.id
       AND at = (SELECT max(at) FROM drive_message WHERE motor = name.id) ORDER BY name.text`,
    ).map((cells) => ({
      ...toDrive(cells[cells.length - 1] as string, cells),
      absentFrom: cells[cells.length - 2] as number | null,
    }));
  }

  /** The latest transient of every motor that has one. */
  lastTransients(): Transient[] {
    return this.all(
      `SELECT ${TRANSIENT_COLUMNS}, name.text FROM name JOIN transient ON motor = name.id
       AND from_ms = (SELECT max(from_ms) FROM transient WHERE motor = name.id) ORDER BY name.text`,
    ).map((cells) => toTransient(cells[cells.length - 1] as string, cells));
  }

  transients(query: PageQuery & { motor: string | null }): Page<Transient> {
    return readTransients(this, query);
  }

  rollups(query: RollupQuery): Page<RollupRow> {
    return readRollups(this, query);
  }

  increments(query: IncrementQuery): Generator<IncrementRecord[]> {
    return readIncrements(this, query);
  }

  bearingLives(query: { motor: string; position: string }): CountedLife[] {
    return readBearingLives(this, query);
  }

  count(query: CountQuery): TimedCount {
    return countTime(query, readCount(this, query));
  }

  actions(query: EntryQuery): Page<MaintenanceAction> {
    return readActions(this, query);
  }

  findings(query: EntryQuery): Page<Finding> {
    return readFindings(this, query);
  }

  alarms(): AlarmRecord[] {
    return readAlarms(this);
  }

  journal(query: JournalQuery): Page<JournalEntry> {
    const { items, next } = readJournal(this, query);
    return { items: items.map(toEntry), next };
  }

  /** The same with number and digest. */
  journalRows(query: JournalQuery): Page<JournalRow> {
    return readJournal(this, query);
  }

  diagnostics(): DiagnosticRow[] {
    return readDiagnostics(this);
  }

  quarantine(query: PageQuery): Page<QuarantineEntry> {
    return readQuarantine(this, query);
  }
}

/** Opens a store for reading, a running gateway's too. Throws StoreError: missing, newer or older schema, corrupt. */
export function openReader(dir: string): ReadStore {
  const file = join(dir, FILE_NAME);
  if (!existsSync(file))
    throw new StoreError(
      'missing',
      `there is no database in ${dir}`,
      'name the folder that the gateway writes to (--data)',
      false,
    );
  let db: Database.Database | null = null;
  try {
    db = new Database(file, { readonly: true, timeout: 2000 });
    refuseOtherSchema(db.pragma('user_version', { simple: true }) as number, dir);
    return new ReadStore(db);
  } catch (error) {
    db?.close();
    throw toStoreError(error);
  }
}

function refuseOtherSchema(version: number, dir: string): void {
  if (version === SCHEMA_VERSION) return;
  const found = `the database in ${dir} has schema ${version}, this program reads schema ${SCHEMA_VERSION}`;
  if (version > SCHEMA_VERSION)
    throw new StoreError('newer-schema', found, 'use the program that wrote it', false);
  throw new StoreError(
    'older-schema',
    found,
    'start the gateway once: it keeps a copy and migrates it',
    true,
  );
}
