/** The chain outlives retention, backup and restore, and a long journal is proved within a bounded time. */
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { restoreStore } from '../../src/cli/restore-store.js';
import { openReader } from '../../src/store/reader.js';
import type { Retention } from '../../src/store/retention.js';
import { openStore } from '../../src/store/store.js';
import { entry, tamper, verify, writeEntries } from './journal-rig.js';
import { commit, makeFolder, outputs, START } from './sample-rows.js';

const DAY = 86_400_000;
const KEEP: Retention = {
  ...{ incrementsDays: 400, minutesDays: 400, tenMinutesDays: 400, hoursDays: 400 },
  ...{ journalDays: 10, quarantineDays: 10, drivesDays: 10 },
};

let folder: ReturnType<typeof makeFolder>;
let dir: string;
beforeEach(() => {
  folder = makeFolder();
  dir = folder.dir;
});
afterEach(() => folder.remove());

/** One entry a day. */
function writeDays(from: number, to: number): void {
  const store = openStore(dir);
  for (let day = from; day < to; day++) {
    const at = START + day * DAY;
    commit(store, outputs({ journal: [entry(day, { at, detectedAt: at })] }));
  }
  store.close();
}

function retain(day: number): void {
  const store = openStore(dir);
  while (store.retain(START + day * DAY, KEEP) > 0);
  store.close();
}

function numbers(): number[] {
  const reader = openReader(dir);
  const { items } = reader.journalRows({ from: null, to: null, limit: 1000, cursor: null });
  reader.close();
  return items.map(({ id }) => id);
}

describe('retention', () => {
  it('takes the oldest, says so in an entry, and what is left is proved from there on', () => {
    writeDays(0, 20);
    retain(20);
    expect(numbers()).toEqual([11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21]);
    const proof = verify(dir);
    expect(proof).toMatchObject({
      fault: null,
      entries: 11,
      removed: { id: 10, count: 10 },
      head: { id: 21 },
    });
    const reader = openReader(dir);
    const said = reader.journal({ from: null, to: null, limit: 9, cursor: null, subject: 'journal' }).items;
    reader.close();
    expect(said.map(({ kind, text }) => [kind, text])).toEqual([
      [
        'gateway',
        `retention has removed 10 entries in all, the last of them number 10, digest ${proof.removed!.digest}`,
      ],
    ]);
  });

  it('again and again, with restarts and new entries between', () => {
    for (let day = 0; day < 60; day += 4) {
      writeDays(day, day + 4);
      retain(day + 4);
      expect(verify(dir).fault).toBeNull();
    }
    expect(verify(dir).removed!.count + numbers().length).toBeGreaterThanOrEqual(60);
    expect(numbers().length).toBeLessThan(20);
  });

  it('of a journal that grows no more leaves what it said itself, and does nothing then', () => {
    writeDays(0, 5);
    retain(40);
    expect(numbers()).toEqual([6]);
    retain(80);
    retain(120);
    expect(numbers()).toEqual([6]);
    expect(verify(dir)).toMatchObject({ fault: null, entries: 1, removed: { id: 5, count: 5 } });
  });

  it('does not visit the journal for a few entries', () => {
    writeDays(0, 20);
    retain(10.05);
    expect(numbers()).toHaveLength(20);
    retain(10.2);
    expect(numbers()).toHaveLength(20);
  });

  it('takes no entry from the middle: one that was late waits for those written before it', () => {
    const store = openStore(dir);
    const times = [0, 12, 1, 13].map((day) => START + day * DAY);
    commit(store, outputs({ journal: times.map((at, i) => entry(i, { at, detectedAt: START + i })) }));
    store.close();
    retain(15);
    expect(numbers()).toEqual([2, 3, 4, 5]);
    retain(30);
    expect(numbers()).toEqual([6]);
    expect(verify(dir).fault).toBeNull();
  });

  it('is not held up by an entry that a wrong clock dated years ahead', () => {
    const store = openStore(dir);
    const ahead = START + 5000 * DAY;
    const journal = [entry(0), entry(1, { at: ahead, detectedAt: ahead }), entry(2), entry(3)];
    commit(store, outputs({ journal }));
    store.close();
    writeDays(30, 31);
    retain(31);
    expect(numbers()).toEqual([5, 6]);
    expect(verify(dir).fault).toBeNull();
  });

  it('of entries from before the chain is told without a digest', () => {
    writeDays(0, 3);
    tamper(dir, 'UPDATE journal SET digest = NULL', `DELETE FROM meta WHERE key = 'journal-chain'`);
    writeDays(20, 22);
    expect(verify(dir)).toMatchObject({ fault: null, unchained: 3, entries: 2 });
    retain(22);
    expect(verify(dir)).toMatchObject({ fault: null, unchained: 0, entries: 3, removed: { digest: '' } });
  });

  it('a failure in the midst of it leaves the chain as it was', () => {
    writeDays(0, 20);
    let seen = 0;
    let failAt = Infinity;
    const store = openStore(dir, {
      onStatement: () => {
        seen += 1;
        if (seen === failAt) throw Object.assign(new Error('disk I/O error'), { code: 'SQLITE_IOERR_WRITE' });
      },
    });
    for (let n = 1; ; n++) {
      [seen, failAt] = [0, n];
      try {
        store.retain(START + 20 * DAY, KEEP);
        break;
      } catch {
        failAt = Infinity;
        expect(verify(dir)).toMatchObject({ fault: null, entries: 20 });
      }
    }
    failAt = Infinity;
    commit(store, outputs({ journal: [entry(40)] }));
    store.close();
    expect(verify(dir)).toMatchObject({ fault: null, entries: 12 });
  });

  it('that somebody only pretends is found: what it said stands in the chain', () => {
    writeDays(0, 20);
    retain(20);
    const reader = openReader(dir);
    const digest = reader.value('SELECT lower(hex(digest)) FROM journal WHERE id = 14') as string;
    const record = JSON.parse(
      reader.value(`SELECT value FROM meta WHERE key = 'journal-chain'`) as string,
    ) as {
      anchor: { count: number };
    };
    reader.close();
    const anchor = { ...record.anchor, id: 14, digest, count: record.anchor.count + 4 };
    const text = JSON.stringify({ ...record, anchor });
    tamper(dir, 'DELETE FROM journal WHERE id <= 14', `UPDATE meta SET value = '${text}'`);
    expect(verify(dir).fault).toMatchObject({ kind: 'removed', id: 15 });
  });

  it('a digest that was noted before is still met where it is the last one removed, and no longer before that', () => {
    writeDays(0, 9);
    const early = verify(dir).head!.digest;
    writeDays(9, 10);
    const last = verify(dir).head!.digest;
    writeDays(10, 20);
    retain(20);
    expect(verify(dir, last)).toMatchObject({ fault: null, expectedId: 10 });
    expect(verify(dir, early).fault).toMatchObject({ kind: 'rewritten' });
    expect(verify(dir, early).fault?.advice).toContain('retention has removed that entry');
  });
});

describe('backup and restore', () => {
  it('keep the chain; what was written after the backup is missed by its digest', async () => {
    writeEntries(dir, 0, 10);
    const store = openStore(dir);
    const copy = join(dir, 'copy.db');
    await store.backup(copy);
    store.close();
    const atBackup = verify(dir).head!.digest;
    writeEntries(dir, 10, 14);
    const later = verify(dir).head!.digest;
    const other = join(dir, 'restored');
    restoreStore(copy, other);
    expect(verify(other, atBackup)).toMatchObject({ fault: null, entries: 10, expectedId: 10 });
    expect(verify(other, later).fault).toMatchObject({ kind: 'rewritten' });
    writeEntries(other, 10, 14);
    expect(verify(other, later)).toMatchObject({ fault: null, entries: 14, expectedId: 14 });
  });
});

describe('100,000 entries', () => {
  it('are proved within seconds and bounded memory, and one altered among them is found', () => {
    const count = 100_000;
    writeEntries(dir, 0, count, 5000);
    const heap = process.memoryUsage().heapUsed;
    const startedAt = performance.now();
    expect(verify(dir)).toMatchObject({ fault: null, entries: count });
    expect(performance.now() - startedAt).toBeLessThan(20_000);
    expect(process.memoryUsage().heapUsed - heap).toBeLessThan(200e6);
    tamper(dir, `UPDATE journal SET text = 'nothing' WHERE id = 77777`);
    const again = performance.now();
    expect(verify(dir).fault).toMatchObject({ kind: 'altered', id: 77_777 });
    expect(performance.now() - again).toBeLessThan(20_000);
  }, 120_000);
});
