/**
 * The store of the one writing thread: the transaction in which everything of a batch is written, what the core asks for
 * inside it, and what it needs at start.
 */
import type Database from 'better-sqlite3';
import { statSync } from 'node:fs';
import type { Answer, Need, Restored } from '../core/needs.js';
import type { Plan } from '../core/plan.js';
import type { Outputs } from '../core/rows.js';
import { StoreReader } from './answers.js';
import { NameTable } from './names.js';
import { openDatabase } from './open.js';
import { retainRows, type Retention } from './retention.js';
import { StoreError, toStoreError } from './store-error.js';
import { OutputWriter, type Applied } from './writer.js';

export interface QuarantineRow {
  readonly at: number;
  readonly reason: string;
  readonly topic: string;
  readonly client: string;
  readonly size: number;
  readonly firstBytes: Uint8Array;
}

export interface StoreOptions {
  /** called before each statement with its number in the process; tests throw here */
  readonly onStatement?: (number: number) => void;
}

/** Rows of quarantine kept; the oldest go first. */
const QUARANTINE_MAX = 20_000;

export interface Store {
  /** where a corrupt file was put at opening; null: none was found */
  readonly setAside: string | null;
  begin(): void;
  apply(outputs: Outputs): Applied;
  quarantine(rows: readonly QuarantineRow[]): void;
  answer(need: Need): Answer;
  commit(): void;
  rollback(): void;
  restore(plan: Plan, reachMs: number): Restored;
  /** A consistent copy in a new file, made on this connection; its size in bytes. Throws StoreError when OUT exists. */
  backup(path: string): Promise<number>;
  /** Deletes a slice of what is older than the retention and gives the space back; rows deleted (0: nothing left to do). */
  retain(now: number, retention: Retention): number;
  /** Bytes of the WAL after a checkpoint that empties it as far as readers allow. */
  checkpointWal(): number;
  close(): void;
}

/** Opens the store for writing. Throws StoreError. */
export function openStore(dir: string, options: StoreOptions = {}): Store {
  const opened = openDatabase(dir);
  const { db } = opened;
  let statements = 0;
  const onStatement = (): void => options.onStatement?.(++statements);
  const names = new NameTable(db);
  const writer = new OutputWriter(db, names, onStatement);
  const reader = new StoreReader(db, names);
  const begin = db.prepare('BEGIN IMMEDIATE');
  const commit = db.prepare('COMMIT');
  const rollback = db.prepare('ROLLBACK');
  const insertQuarantine = db.prepare(
    'INSERT INTO quarantine (at, client, topic, reason, size, head) VALUES (?, ?, ?, ?, ?, ?)',
  );
  const trimQuarantine = db.prepare(
    'DELETE FROM quarantine WHERE id <= (SELECT max(id) FROM quarantine) - ?',
  );
  const attempt = <T>(work: () => T): T => {
    try {
      return work();
    } catch (error) {
      throw toStoreError(error);
    }
  };
  return {
    setAside: opened.setAside,
    begin: () => attempt(() => void begin.run()),
    apply: (outputs) => attempt(() => writer.apply(outputs)),
    quarantine: (rows) =>
      attempt(() => {
        for (const r of rows) {
          onStatement();
          insertQuarantine.run(r.at, r.client, r.topic, r.reason, r.size, r.firstBytes);
        }
        trimQuarantine.run(QUARANTINE_MAX);
      }),
    answer: (need) => attempt(() => reader.answer(need)),
    commit: () =>
      attempt(() => {
        onStatement();
        commit.run();
      }),
    rollback: () => {
      try {
        if (db.inTransaction) rollback.run();
        names.reload();
      } catch {
        // a connection that cannot roll back is closed with its process; the journal rolls back at the next opening
      }
    },
    restore: (plan, reachMs) => attempt(() => reader.restore(plan, reachMs)),
    backup: (path) => backup(db, path),
    retain: (now, retention) => attempt(() => retainRows(db, now, retention)),
    checkpointWal: () =>
      attempt(() => {
        const [row] = db.pragma('wal_checkpoint(TRUNCATE)') as { log: number }[];
        return Math.max(0, row?.log ?? 0) * 4096;
      }),
    close: () => opened.close(),
  };
}

/** In one go on the writer's own connection: from another one it would start over with every commit. */
function backup(db: Database.Database, path: string): Promise<number> {
  return new Promise((resolve) => {
    try {
      db.prepare('VACUUM INTO ?').run(path);
    } catch (error) {
      const exists = error instanceof Error && error.message.includes('exists');
      throw exists
        ? new StoreError('exists', `${path} is there already`, 'name a file that does not exist', false)
        : toStoreError(error);
    }
    resolve(statSync(path).size);
  });
}
