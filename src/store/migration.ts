/** Brings a database to this program's schema: a copy first, then all steps in one transaction, so that no version between is ever met. */
import type Database from 'better-sqlite3';
import { existsSync, renameSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { MIGRATIONS } from './schema.js';
import { StoreError } from './store-error.js';
import { syncFile } from './sync-file.js';

/**
 * The file beside the database that holds it as it was before version `to`; where it is there already, an earlier attempt
 * broke off after it, and it stands.
 */
function copyBefore(db: Database.Database, dir: string, to: number): void {
  const copy = join(dir, `tallypost-before-v${to}.db`);
  if (existsSync(copy)) return;
  const part = `${copy}.part`;
  rmSync(part, { force: true });
  db.prepare('VACUUM INTO ?').run(part);
  syncFile(part);
  renameSync(part, copy);
  syncFile(dir);
}

/**
 * `migrations`: the statements of each step, the first from nothing to version 1. Throws StoreError `newer-schema` when
 * the file's version is beyond the last.
 */
export function migrate(
  db: Database.Database,
  dir: string,
  migrations: readonly (readonly string[])[] = MIGRATIONS,
): void {
  const target = migrations.length;
  const version = db.pragma('user_version', { simple: true }) as number;
  if (version > target) {
    throw new StoreError(
      'newer-schema',
      `the database in ${dir} has schema ${version}, this program knows schemas up to ${target}`,
      'use the program that wrote it, or restore a backup that an older one made',
      false,
    );
  }
  if (version === target) return;
  if (version > 0) copyBefore(db, dir, target);
  db.transaction(() => {
    for (const statements of migrations.slice(version)) for (const sql of statements) db.exec(sql);
    db.pragma(`user_version = ${target}`);
  })();
}
