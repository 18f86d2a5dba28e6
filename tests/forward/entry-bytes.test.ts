/** The cap of what waits is kept in entries: what it takes an entry for must hold on the disk. */
import Database from 'better-sqlite3';
import { statSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { ENTRY_BYTES } from '../../src/forward/expiry.js';
import { FILE_NAME } from '../../src/store/open.js';
import { openStore } from '../../src/store/store.js';
import { makeFolder } from '../store/sample-rows.js';
import { START } from './forward-rig.js';

const MINUTE_MS = 60_000;
const SENSORS = 200;

type Entry = readonly [stream: number, subject: number, start: number];

/** What a plant enters in a minute. */
function* entriesOf(minute: number): Iterable<Entry> {
  const start = START + minute * MINUTE_MS;
  for (let sensor = 1; sensor <= SENSORS; sensor++) {
    yield [1, sensor, start];
    if (minute % 10 === 0) yield [2, sensor, start];
    if (minute % 60 === 0) yield [3, sensor, start];
    if (minute % 1_440 === 0) for (const code of [7, 8, 9]) yield [code, sensor, start];
  }
  for (let i = 0; i < 4; i++) {
    yield [4, SENSORS + i, start + i];
    yield [5, 2 * SENSORS + i, 0];
    yield [6, 2 * SENSORS + i, minute * 4 + i];
  }
}

test('an entry of a plant with all its streams takes no more than the cap assumes', () => {
  const folder = makeFolder();
  try {
    openStore(folder.dir, { forwards: true }).close();
    const file = join(folder.dir, FILE_NAME);
    const empty = statSync(file).size;
    const db = new Database(file);
    const insert = db.prepare('INSERT INTO outbox VALUES (?, ?, ?, ?, 1, ?)');
    const heads = new Map<number, number>();
    let entries = 0;
    for (let minute = 1; entries < 50_000; minute++)
      db.transaction(() => {
        for (const [stream, subject, start] of entriesOf(minute)) {
          const position = (heads.get(stream) ?? START) + 1;
          heads.set(stream, position);
          insert.run(stream, position, subject, start, START + minute * MINUTE_MS);
          entries += 1;
        }
      })();
    db.close();
    expect((statSync(file).size - empty) / entries).toBeLessThanOrEqual(ENTRY_BYTES);
  } finally {
    folder.remove();
  }
});
