/** Brings a database to this program's schema: a copy first, then each step in a transaction of its own. */
import type Database from 'better-sqlite3';
import { existsSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { MIGRATIONS, SCHEMA_VERSION } from './schema.js';
import { StoreError } from './store-error.js';

export function migrate(db: Database.Database, dir: string): void {
  const version = db.pragma('user_version', { simple: true }) as number;
  if (version > SCHEMA_VERSION) {
    throw new StoreError(
      'newer-schema',
      `the database in ${dir} has schema ${version}, this program reads up to ${SCHEMA_VERSION}`,
      'use the newer program, or restore a backup that the older one made',
      false,
    );
  }
  if (version === SCHEMA_VERSION) return;
  if (version > 0) {
    const copy = join(dir, `tallypost-before-v${SCHEMA_VERSION}.db`);
    if (existsSync(copy)) rmSync(copy);
    db.prepare('VACUUM INTO ?').run(copy);
  }
  for (let next = version; next < SCHEMA_VERSION; next++) {
    db.transaction(() => {
      for (const sql of MIGRATIONS[next]!) db.exec(sql);
      db.pragma(`user_version = ${next + 1}`);
    })();
  }
}
