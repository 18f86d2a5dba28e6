/** The chain of the journal: what is honest is proved, and an entry that was altered behind the gateway's back is found. */
import { createHash } from 'node:crypto';
import { copyFileSync } from 'node:fs';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { CHAINED_COLUMNS } from '../../src/store/journal-chain.js';
import { migrate } from '../../src/store/migration.js';
import { openReader } from '../../src/store/reader.js';
import { APPLICATION_ID, MIGRATIONS } from '../../src/store/schema.js';
import { openStore } from '../../src/store/store.js';
import { entry, rowsThere, tamper, verify, writeEntries } from './journal-rig.js';
import { commit, makeFolder, outputs } from './sample-rows.js';

let folder: ReturnType<typeof makeFolder>;
let dir: string;
beforeEach(() => {
  folder = makeFolder();
  dir = folder.dir;
});
afterEach(() => folder.remove());

describe('a journal that nobody touched', () => {
  it('is proved, and its head is told', () => {
    writeEntries(dir, 0, 10);
    const proof = verify(dir);
    expect(proof).toMatchObject({ fault: null, entries: 10, unchained: 0, removed: null, head: { id: 10 } });
    expect(proof.head?.digest).toMatch(/^[0-9a-f]{64}$/);
  });

  it('has the digests that the description says, computed apart from it', () => {
    writeEntries(dir, 0, 4);
    const db = new Database(join(dir, 'tallypost.db'), { readonly: true });
    let before = Buffer.alloc(32);
    for (const row of db.prepare('SELECT * FROM journal ORDER BY id').all() as Record<string, unknown>[]) {
      const cells = ['id', 'at', 'detected_at', 'kind', 'subject', 'before', 'after', 'who', 'text'];
      const text = JSON.stringify(
        [...cells, 'what', 'annunciated', 'configuration', 'evidence'].map((name) => row[name]),
      );
      before = createHash('sha256')
        .update(Buffer.concat([before, Buffer.from(text, 'utf8')]))
        .digest();
      expect(row['digest']).toEqual(before);
    }
    db.close();
  });

  it('of no entries has no head, and nothing is wrong with it', () => {
    openStore(dir).close();
    expect(verify(dir)).toMatchObject({ fault: null, entries: 0, head: null });
  });

  it('goes on after each restart where it was', () => {
    for (let i = 0; i < 20; i += 5) writeEntries(dir, i, i + 5, 2);
    expect(verify(dir)).toMatchObject({ fault: null, entries: 20 });
  });

  it('bears whatever a person may write', () => {
    const store = openStore(dir);
    const texts = ['', '"', '\\', '\u0000a', 'a\u0000', 'é\u0301', '\ud800', 'x\udc00y', '😀', '\u2028', ' '];
    commit(store, outputs({ journal: texts.map((text, i) => entry(i, { text, who: text, subject: text })) }));
    store.close();
    expect(verify(dir)).toMatchObject({ fault: null, entries: texts.length });
  });

  it('a batch that is rolled back leaves no trace in it', () => {
    const store = openStore(dir);
    commit(store, outputs({ journal: [entry(0)] }));
    store.begin();
    store.apply(outputs({ journal: [entry(1), entry(2)] }));
    store.rollback();
    commit(store, outputs({ journal: [entry(3)] }));
    store.close();
    expect(verify(dir)).toMatchObject({ fault: null, entries: 2, head: { id: 2 } });
  });

  it('a process that ends in the middle of a batch leaves no trace in it', () => {
    const store = openStore(dir);
    commit(store, outputs({ journal: [entry(0)] }));
    store.begin();
    store.apply(outputs({ journal: [entry(1)] }));
    store.close();
    writeEntries(dir, 2, 3);
    expect(verify(dir)).toMatchObject({ fault: null, entries: 2 });
  });

  it('the n-th statement may fail, for every n', () => {
    let failAt = Infinity;
    let seen = 0;
    const store = openStore(dir, {
      onStatement: () => {
        seen += 1;
        if (seen === failAt) throw Object.assign(new Error('disk I/O error'), { code: 'SQLITE_IOERR_WRITE' });
      },
    });
    for (let n = 1, done = false; !done; n++) {
      [seen, failAt] = [0, n];
      try {
        store.begin();
        store.apply(outputs({ journal: [entry(n), entry(n + 1)] }));
        store.commit();
        done = true;
      } catch {
        store.rollback();
      }
      expect(verify(dir).fault).toBeNull();
    }
    store.close();
    expect(verify(dir)).toMatchObject({ fault: null, entries: 2 });
  });

  it('is proved while the gateway goes on writing to it', () => {
    const store = openStore(dir);
    commit(store, outputs({ journal: [entry(0)] }));
    const reader = openReader(dir);
    commit(store, outputs({ journal: [entry(1)] }));
    reader.close();
    expect(verify(dir)).toMatchObject({ fault: null, entries: 2 });
    store.close();
  });
});

describe('altered entries', () => {
  const CHANGES: Readonly<Record<string, string>> = {
    at: 'at - 60000',
    detected_at: 'detected_at + 1',
    kind: `'operator'`,
    subject: `'pump-9.de-rate-high'`,
    before: `'acknowledged'`,
    after: `'normal'`,
    who: `'Nobody'`,
    text: `text || ' '`,
    what: `'returned'`,
    annunciated: '1 - annunciated',
    configuration: `'ffffff'`,
    evidence: `CASE WHEN evidence IS NULL THEN '{}' ELSE replace(evidence, '"pulses":', '"pulses":1') END`,
    digest: `zeroblob(32)`,
  };

  it('every column is tried', () => {
    expect(Object.keys(CHANGES)).toEqual([...CHAINED_COLUMNS.slice(1), 'digest']);
  });

  it.each(Object.entries(CHANGES))(
    'a changed %s is found, first, in the middle and last',
    (column, change) => {
      writeEntries(dir, 0, 12);
      const before = rowsThere(dir);
      copyFileSync(join(dir, 'tallypost.db'), join(dir, 'kept'));
      for (const id of [1, 2, 7, 11, 12]) {
        tamper(dir, `UPDATE journal SET ${column} = ${change} WHERE id = ${id}`);
        expect(rowsThere(dir)).not.toEqual(before);
        expect(verify(dir).fault).toMatchObject({ kind: 'altered', id });
        folder.remove();
        folder = makeFolder();
        dir = folder.dir;
        writeEntries(dir, 0, 12);
      }
    },
  );

  it('evidence that was taken away is found, and so is a digest', () => {
    writeEntries(dir, 0, 12);
    tamper(dir, 'UPDATE journal SET digest = NULL WHERE id = 5');
    expect(verify(dir).fault).toMatchObject({ kind: 'altered', id: 5 });
    tamper(dir, 'UPDATE journal SET evidence = NULL WHERE id = 4');
    expect(verify(dir).fault).toMatchObject({ kind: 'altered', id: 4 });
  });

  it('all digests taken away, as if the entries were older than the chain, is found', () => {
    writeEntries(dir, 0, 12);
    tamper(dir, 'UPDATE journal SET digest = NULL WHERE id <= 5');
    expect(verify(dir).fault).toMatchObject({ kind: 'altered', id: 1 });
  });

  it('the last entry altered with a digest that fits it is found by the record of the chain', () => {
    writeEntries(dir, 0, 6);
    const reader = openReader(dir);
    const [row] = reader.all(`SELECT ${CHAINED_COLUMNS.join(', ')} FROM journal WHERE id = 6`);
    const before = reader.value('SELECT hex(digest) FROM journal WHERE id = 5') as string;
    reader.close();
    row![CHAINED_COLUMNS.indexOf('who')] = 'Nobody';
    const digest = createHash('sha256').update(Buffer.from(before, 'hex')).update(JSON.stringify(row));
    tamper(dir, `UPDATE journal SET who = 'Nobody', digest = x'${digest.digest('hex')}' WHERE id = 6`);
    expect(verify(dir).fault).toMatchObject({ kind: 'altered', id: 6 });
  });
});

describe('a store of schema 3', () => {
  function openOld(rows: number): void {
    const db = new Database(join(dir, 'tallypost.db'));
    db.pragma('auto_vacuum = INCREMENTAL');
    db.pragma(`application_id = ${APPLICATION_ID}`);
    migrate(db, dir, MIGRATIONS.slice(0, 3));
    const insert = db.prepare(
      `INSERT INTO journal (at, detected_at, kind, subject, before, after, who, text, evidence) VALUES (?, ?, 'alarm', 's', '', '', '', 't', NULL)`,
    );
    for (let i = 0; i < rows; i++) insert.run(i, i);
    db.close();
  }

  it('keeps its entries without digest, and the chain begins with the first that is written now', () => {
    openOld(7);
    openStore(dir).close();
    expect(verify(dir)).toMatchObject({ fault: null, entries: 0, unchained: 7, head: null });
    writeEntries(dir, 0, 5);
    expect(verify(dir)).toMatchObject({ fault: null, entries: 5, unchained: 7, head: { id: 12 } });
    const reader = openReader(dir);
    const { items } = reader.journalRows({ from: null, to: null, limit: 20, cursor: null });
    reader.close();
    expect(items.map(({ id, digest }) => [id, digest !== null])).toEqual(
      Array.from({ length: 12 }, (_, i) => [i + 1, i >= 7]),
    );
  });

  it('the first chained entry cannot be taken for an older one, nor an older one removed with it', () => {
    openOld(7);
    writeEntries(dir, 0, 5);
    tamper(dir, 'UPDATE journal SET digest = NULL WHERE id = 8');
    expect(verify(dir).fault).toMatchObject({ kind: 'altered', id: 8 });
    tamper(dir, 'DELETE FROM journal WHERE id <= 8');
    expect(verify(dir).fault).toMatchObject({ kind: 'removed', id: 8 });
  });
});
