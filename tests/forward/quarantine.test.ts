/** The quarantine of a sink has bounds; what goes beyond them is given up by name, and the ledger still adds up. */
import { afterEach, beforeEach, expect, test } from 'vitest';
import { openForwardDatabase } from '../../src/forward/forward-database.js';
import { isBalanced, readDeliveryLedger, readLosses } from '../../src/forward/delivery-ledger.js';
import { pickEntries } from '../../src/forward/picked.js';
import { Quarantine, type QuarantineLimits } from '../../src/forward/quarantine.js';
import { SinkBook } from '../../src/forward/sink-book.js';
import { OutboxReader } from '../../src/store/outbox-reader.js';
import { openReader } from '../../src/store/reader.js';
import { ForwardRig, START } from './forward-rig.js';

const MINUTES = 1;
let rig: ForwardRig;
let outbox: OutboxReader;
let db: ReturnType<typeof openForwardDatabase>['db'];
let book: SinkBook;

beforeEach(() => {
  rig = new ForwardRig(['pump-1/de']);
  for (let i = 0; i < 30; i++) rig.closeMinute();
  outbox = new OutboxReader(openReader(rig.folder.dir));
  db = openForwardDatabase(rig.folder.dir).db;
  book = new SinkBook('plant', [MINUTES], db, outbox);
  book.open(START, true);
});
afterEach(() => {
  outbox.close();
  db.close();
  rig.store.close();
  rig.folder.remove();
});

/** All that is in the outbox is refused, the first `unledgered` of it by a backfill too. */
function refuseAll(quarantine: Quarantine, unledgered = 0): void {
  const picked = pickEntries(
    outbox,
    MINUTES,
    [book.cursor(MINUTES).live, Number.MAX_SAFE_INTEGER],
    100,
    1,
    false,
  );
  const settled = picked.map(({ entry }) => ({ ...entry, outcome: 'quarantined' as const }));
  book.settle(settled, 'live', () => {
    for (const { record } of picked.slice(0, unledgered))
      quarantine.put(MINUTES, null, { record: record!, reason: 'no' }, START);
    for (const { entry, record } of picked)
      quarantine.put(MINUTES, entry.subject, { record: record!, reason: 'no' }, START);
  });
}

function expectGivenUp(quarantine: Quarantine, count: number): void {
  const [line] = readDeliveryLedger(db, outbox, 'plant', book.cursors);
  expect(line).toMatchObject({ produced: 30, quarantined: 30 - count, expired: count });
  expect(isBalanced(line!)).toBe(true);
  const [loss] = readLosses(db, outbox, 'plant', 10);
  const lastStart = START + (count - 1) * 60_000;
  expect(loss).toMatchObject({ subject: 'pump-1/de', count, firstStart: START, lastStart });
  expect(loss!.reason).toContain('in quarantine');
  expect(quarantine.list(0, 100)[0]!.record.at).toBe(START + count * 60_000);
}

test('beyond its number of records the oldest go into the loss ledger', () => {
  const quarantine = new Quarantine(db, book, { records: 12, bytes: 1e9 });
  refuseAll(quarantine);
  expect(quarantine.size).toBe(12);
  expectGivenUp(quarantine, 18);
  expect([quarantine.takeGivenUp(), quarantine.takeGivenUp()]).toEqual([18, 0]);
});

test('beyond its bytes too, also of what was kept before a restart', () => {
  refuseAll(new Quarantine(db, book));
  const sum = 'SELECT sum(length(CAST(record AS BLOB))) FROM quarantine';
  const bytes = db.prepare(sum).pluck().get() as number;
  const limits: QuarantineLimits = { records: 1_000, bytes: Math.floor(bytes / 2) };
  const quarantine = new Quarantine(db, book, limits);
  const { record } = quarantine.list(0, 1)[0]!;
  db.transaction(() => quarantine.put(MINUTES, null, { record, reason: 'again' }, START))();
  expect(db.prepare(sum).pluck().get()).toBeLessThanOrEqual(limits.bytes);
  expectGivenUp(quarantine, 30 - quarantine.size);
});

test('copies of a backfill go first, and are in no ledger', () => {
  const quarantine = new Quarantine(db, book, { records: 30, bytes: 1e9 });
  refuseAll(quarantine, 5);
  expect(quarantine.size).toBe(30);
  expect(quarantine.list(0, 100).every(({ subject }) => subject !== null)).toBe(true);
  expect(readLosses(db, outbox, 'plant', 10)).toEqual([]);
  expect(readDeliveryLedger(db, outbox, 'plant', book.cursors).every(isBalanced)).toBe(true);
});

test('what the disk did not take is not settled: cursor, ledger and counts stand as before', () => {
  const quarantine = new Quarantine(db, book);
  const before = book.cursor(MINUTES);
  const [picked] = pickEntries(outbox, MINUTES, [before.live, Number.MAX_SAFE_INTEGER], 100, 1, false);
  const settled = [{ ...picked!.entry, outcome: 'quarantined' as const }];
  const fail = (): void =>
    book.settle(settled, 'live', () => {
      quarantine.put(MINUTES, picked!.entry.subject, { record: picked!.record!, reason: 'no' }, START);
      throw new Error('the disk is full');
    });
  expect(fail).toThrow('the disk is full');
  expect(book.cursor(MINUTES)).toEqual(before);
  expect(quarantine.size).toBe(0);
  refuseAll(quarantine);
  expect(quarantine.size).toBe(30);
  const [line] = readDeliveryLedger(db, outbox, 'plant', book.cursors);
  expect(line).toMatchObject({ produced: 30, quarantined: 30 });
  expect(isBalanced(line!)).toBe(true);
});
