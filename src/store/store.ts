/**
 * The store of the one writing thread: the transaction in which everything of a batch is written, what the core asks for
 * inside it, and what it needs at start.
 */
import { statSync } from 'node:fs';
import { join } from 'node:path';
import type Database from 'better-sqlite3';
import type { Answer, Need, Restored } from '../core/needs.js';
import type { Plan } from '../core/plan.js';
import type { Outputs } from '../core/rows.js';
import { Answers } from './answers.js';
import { backupDatabase } from './backup.js';
import { loadRestored } from './load.js';
import { NameTable } from './names.js';
import { FILE_NAME, openDatabase } from './open.js';
import { dropOutbox } from './outbox-writer.js';
import { removeEmptyChains, retainRows, type Retention } from './retention.js';
import { Statements } from './statements.js';
import { attempt, StoreError, toStoreError } from './store-error.js';
import type { QuarantineRow } from './write-records.js';
import { OutputWriter, type Applied } from './writer.js';
import { ZoneReach } from './zone-reach.js';

export interface StoreOptions {
  /** of pages of the database held in memory; absent: as many as help when everything is written at full speed */
  readonly cacheBytesMax?: number;
  /** called before each statement with its number, counted from opening; a test may throw here, as the disk would */
  readonly onStatement?: (number: number) => void;
  /**
   * True: what changes is entered in the outbox. False: what an outbox held goes. Absent: nothing is entered, and what
   * is there stays
   */
  readonly forwards?: boolean;
  /** wall clock, ms; for the first opening of an outbox */
  now?(this: void): number;
}

export interface StoreStats {
  readonly databaseBytes: number;
  readonly walBytes: number;
  /** of the database: free for rows to come, or to be given back */
  readonly freeBytes: number;
}

/** Everything throws StoreError when SQLite or the disk fails; what else is thrown is a fault of the program. */
export interface Store {
  /** where a corrupt file was put at opening; null: none was found */
  readonly setAside: string | null;
  /** Opens the one transaction. `apply`, `quarantine` and `setMeta` belong inside. */
  begin(): void;
  /** `isTold` false: nobody asks for the rollups as they then stand, and the answer leaves out those that were added to. */
  apply(outputs: Outputs, isTold?: boolean): Applied;
  quarantine(rows: readonly QuarantineRow[]): void;
  /** Sees what the open transaction wrote. */
  answer(need: Need): Answer;
  /** Last in the transaction: what it changed goes into the outbox. `now` in ms. */
  enterOutbox(now: number): void;
  /** Entries up to these positions, by stream, are settled at every sink; they go with the transactions to come. */
  settleOutbox(done: ReadonlyMap<number, number>): void;
  /** Returns when the transaction is on the disk. */
  commit(): void;
  /** Never throws; does nothing where no transaction is open. */
  rollback(): void;
  restore(plan: Plan, reachMs: number): Restored;
  /** A small text under a name of its own; null: there is none. */
  getMeta(key: string): string | null;
  setMeta(key: string, value: string): void;
  /** A consistent copy in a new file, made between the commits that go on meanwhile; its size in bytes. */
  backup(path: string, tell?: (pagesLeft: number, pages: number) => void): Promise<number>;
  /** A slice of what is older than the retention goes, see retention.ts; 0: there is nothing left to do. */
  retain(now: number, retention: Retention): number;
  /** Bytes of the WAL after it has been folded back as far as readers allow; it waits for none of them. */
  checkpointWal(): number;
  stats(): StoreStats;
  /** Folds the WAL back and lets go of the folder. */
  close(): void;
}

/** Opens the store for writing. Throws StoreError. */
export function openStore(dir: string, options: StoreOptions = {}): Store {
  const opened = openDatabase(dir, options.cacheBytesMax);
  try {
    return makeStore(opened.db, opened, join(dir, FILE_NAME), options);
  } catch (error) {
    opened.close();
    throw error;
  }
}

function makeStore(
  db: Database.Database,
  opened: { setAside: string | null; close(): void },
  file: string,
  options: StoreOptions,
): Store {
  const statements = new Statements(db, options.onStatement);
  tidy(statements);
  const names = new NameTable(statements);
  const reach = new ZoneReach(statements);
  const writer = new OutputWriter(names, reach, statements, options.forwards === true);
  openOutbox(writer, statements, options);
  const answers = new Answers(statements, names, writer.increments.parts, reach);
  const begin = statements.prepare('BEGIN IMMEDIATE');
  const commit = statements.prepare('COMMIT');
  const rollback = db.prepare('ROLLBACK');
  const meta = statements.prepare('SELECT value FROM meta WHERE key = ?');
  return {
    setAside: opened.setAside,
    begin: () => attempt(() => void begin.run()),
    apply: (outputs, isTold = true) => attempt(() => writer.apply(outputs, isTold)),
    quarantine: (rows) => attempt(() => writer.records.quarantine(rows)),
    answer: (need) => attempt(() => answers.answer(need)),
    enterOutbox: (now) => attempt(() => writer.outbox?.enter(now)),
    settleOutbox: (done) => writer.outbox?.settle(done),
    commit: () => attempt(() => void commit.run()),
    rollback: () => {
      try {
        if (db.inTransaction) rollback.run();
        names.reload();
        writer.increments.parts.reload();
        writer.records.journal.reload();
        writer.outbox?.reload();
      } catch {
        // a connection that cannot roll back ends with its process, and the next opening takes the transaction back
      }
    },
    restore: (plan, reachMs) => attempt(() => loadRestored(answers, plan, reachMs)),
    getMeta: (key) => attempt(() => (meta.get(key) as [string] | undefined)?.[0] ?? null),
    setMeta: (key, value) => attempt(() => writer.records.setMeta(key, value)),
    backup: (path, tell) => backupDatabase(db, path, tell),
    retain: (now, retention) => attempt(() => retainRows(statements, writer.records.journal, now, retention)),
    checkpointWal: () => attempt(() => foldWal(db, file)),
    stats: () => attempt(() => measure(db, file)),
    close: () => opened.close(),
  };
}

function openOutbox(writer: OutputWriter, statements: Statements, options: StoreOptions): void {
  const now = options.now ?? Date.now;
  attempt(() => {
    if (options.forwards === false) dropOutbox(statements);
    else writer.outbox?.open(now());
  });
}

/** Tidying is no reason not to start, on a full disk least of all: the next opening tries again. */
function tidy(statements: Statements): void {
  try {
    removeEmptyChains(statements);
  } catch (error) {
    if (!(toStoreError(error) instanceof StoreError)) throw error;
  }
}

/** A reader in the middle of a query keeps the WAL from being emptied: the writer tries, and does not wait for it. */
function foldWal(db: Database.Database, file: string): number {
  const patience = db.pragma('busy_timeout', { simple: true }) as number;
  db.pragma('busy_timeout = 0');
  try {
    db.pragma('wal_checkpoint(TRUNCATE)');
  } finally {
    db.pragma(`busy_timeout = ${patience}`);
  }
  return sizeOf(`${file}-wal`);
}

function measure(db: Database.Database, file: string): StoreStats {
  const pageBytes = db.pragma('page_size', { simple: true }) as number;
  return {
    databaseBytes: sizeOf(file),
    walBytes: sizeOf(`${file}-wal`),
    freeBytes: (db.pragma('freelist_count', { simple: true }) as number) * pageBytes,
  };
}

function sizeOf(path: string): number {
  return statSync(path, { throwIfNoEntry: false })?.size ?? 0;
}
