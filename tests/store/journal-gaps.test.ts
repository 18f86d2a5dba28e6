/** Entries of the journal that were removed, inserted or moved behind the gateway's back are found, and called what they are. */
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { CHAINED_COLUMNS } from '../../src/store/journal-chain.js';
import { openReader } from '../../src/store/reader.js';
import { openStore } from '../../src/store/store.js';
import { entry, tamper, verify, writeEntries } from './journal-rig.js';
import { commit, makeFolder, outputs } from './sample-rows.js';

let folder: ReturnType<typeof makeFolder>;
let dir: string;
beforeEach(() => {
  folder = makeFolder();
  dir = folder.dir;
});
afterEach(() => folder.remove());

describe('removed entries', () => {
  it.each([
    ['the first', 'id = 1', 1],
    ['several at the start', 'id <= 3', 1],
    ['one in the middle', 'id = 6', 6],
    ['several in the middle', 'id BETWEEN 6 AND 9', 6],
    ['the last', 'id = 12', 12],
    ['several at the end', 'id > 8', 9],
    ['all of them', 'id > 0', 1],
  ])('%s', (_, which, id) => {
    writeEntries(dir, 0, 12);
    tamper(dir, `DELETE FROM journal WHERE ${which}`);
    expect(verify(dir).fault).toMatchObject({ kind: 'removed', id });
  });

  it('are found when the gateway has gone on since, and when the gap was closed', () => {
    writeEntries(dir, 0, 12);
    tamper(dir, 'DELETE FROM journal WHERE id > 10');
    writeEntries(dir, 12, 15);
    expect(verify(dir).fault).toMatchObject({ kind: 'removed', id: 11 });
    tamper(dir, 'UPDATE journal SET id = id - 2 WHERE id > 10');
    expect(verify(dir).fault).toMatchObject({ kind: 'removed', id: 11 });
  });

  it('with the record of the chain gone as well', () => {
    writeEntries(dir, 0, 12);
    tamper(dir, `DELETE FROM meta WHERE key = 'journal-chain'`);
    expect(verify(dir).fault).toMatchObject({ kind: 'removed', id: 1 });
    tamper(dir, `INSERT INTO meta VALUES ('journal-chain', 'null')`);
    expect(verify(dir).fault).toMatchObject({ kind: 'removed', id: 1 });
  });

  it('cut off at the end with the record changed is found by a digest that was noted, and by nothing else', () => {
    writeEntries(dir, 0, 12);
    const noted = verify(dir).head!.digest;
    const reader = openReader(dir);
    const digest = reader.value('SELECT lower(hex(digest)) FROM journal WHERE id = 10') as string;
    reader.close();
    const record = JSON.stringify({ start: 1, anchor: null, head: { id: 10, digest } });
    tamper(dir, 'DELETE FROM journal WHERE id > 10', `UPDATE meta SET value = '${record}'`);
    expect(verify(dir).fault).toBeNull();
    expect(verify(dir, noted).fault).toMatchObject({ kind: 'rewritten', id: null });
    expect(verify(dir, digest)).toMatchObject({ fault: null, expectedId: 10 });
  });

  it('a digest that was noted is met however much was written since, in capitals too', () => {
    writeEntries(dir, 0, 5);
    const noted = verify(dir).head!.digest;
    writeEntries(dir, 5, 12);
    expect(verify(dir, noted.toUpperCase())).toMatchObject({ fault: null, expectedId: 5, entries: 12 });
  });
});

describe('inserted and moved entries', () => {
  const BACK = 'UPDATE journal SET id = -id WHERE id < 0';
  const COPY = CHAINED_COLUMNS.slice(1).join(', ');
  const insert = (id: number, like: number): string =>
    `INSERT INTO journal (id, ${COPY}, digest) SELECT ${id}, ${COPY}, digest FROM journal WHERE id = ${like}`;

  it.each([
    ['before the first', [insert(0, 3)], 0],
    ['far before the first', [insert(-7, 3)], -7],
    ['behind the last', [insert(13, 3)], 13],
    ['far behind the last', [insert(40, 3)], 13],
    [
      'in the middle, the others moved up',
      ['UPDATE journal SET id = -id - 1 WHERE id >= 6', BACK, insert(6, 2)],
      6,
    ],
    [
      'several in the middle',
      ['UPDATE journal SET id = -id - 2 WHERE id >= 6', BACK, insert(6, 2), insert(7, 2)],
      6,
    ],
  ])('%s', (_, statements, id) => {
    writeEntries(dir, 0, 12);
    tamper(dir, ...statements);
    expect(verify(dir).fault).toMatchObject({ kind: 'inserted', id });
  });

  it('behind the last, and the gateway went on behind it', () => {
    writeEntries(dir, 0, 12);
    tamper(dir, insert(13, 3));
    writeEntries(dir, 12, 14);
    expect(verify(dir).fault).toMatchObject({ kind: 'inserted', id: 13 });
  });

  it('the gateway is not stopped by an entry that somebody puts in its way', () => {
    const store = openStore(dir);
    commit(store, outputs({ journal: [entry(0)] }));
    tamper(dir, insert(2, 1));
    expect(() => commit(store, outputs({ journal: [entry(1)] }))).toThrow();
    store.rollback();
    commit(store, outputs({ journal: [entry(1)] }));
    store.close();
    expect(verify(dir).fault).toMatchObject({ kind: 'inserted', id: 2 });
  });

  it.each([
    [1, 2],
    [5, 6],
    [3, 9],
    [1, 12],
    [11, 12],
  ])('entries %i and %i changed places', (one, other) => {
    writeEntries(dir, 0, 12);
    tamper(
      dir,
      `UPDATE journal SET id = -1 WHERE id = ${one}`,
      `UPDATE journal SET id = ${one} WHERE id = ${other}`,
      `UPDATE journal SET id = ${other} WHERE id = -1`,
    );
    expect(verify(dir).fault).toMatchObject({ kind: 'reordered', id: one });
    expect(verify(dir).fault?.says).toContain(`now stands as entry ${other}`);
  });

  it('what is said names the numbers, and what to do is said', () => {
    writeEntries(dir, 0, 12);
    tamper(dir, 'DELETE FROM journal WHERE id BETWEEN 6 AND 9');
    const { fault } = verify(dir);
    expect(fault?.says).toBe('Entries 6 to 9 are missing.');
    expect(fault?.advice).toContain('tallypost backup');
  });
});
