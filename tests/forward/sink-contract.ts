/**
 * The suite that every sink runs, against the real receiver. A kind of sink brings a rig: how its receiver is started,
 * killed and asked what it holds in its own tables.
 */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Sink, SinkRecord } from '../../src/forward/sink.js';
import { DAY, eachStream, rollupRecord, rollupRecords } from './made-records.js';

export interface Held {
  readonly stream: string;
  readonly key: string;
  readonly revision: number;
}

/** A receiver in a process of its own, or files. `held`: what it has now, one for each row, doubles included. */
export interface SinkRig {
  makeSink(): Sink;
  held(): Promise<readonly Held[]>;
  /** kill -9; null: there is no process to kill, as with files */
  kill: (() => Promise<void>) | null;
  restart(): Promise<void>;
  stop(): Promise<void>;
}

/** A deadline that no call of this suite is expected to reach. */
const PATIENCE_MS = 20_000;

function soon(ms = PATIENCE_MS): AbortSignal {
  return AbortSignal.timeout(ms);
}

/** A sink on its rig, and what its receiver holds of some records. */
class Stand {
  rig!: SinkRig;
  sink!: Sink;

  async start(startRig: () => Promise<SinkRig>): Promise<void> {
    this.rig = await startRig();
    this.sink = this.rig.makeSink();
    await this.sink.prepare?.(soon());
    await this.sink.open(soon());
  }

  async stop(): Promise<void> {
    await this.sink.close();
    await this.rig.stop();
  }

  async expectTaken(records: readonly SinkRecord[]): Promise<void> {
    expect(await this.sink.send(records, soon())).toEqual({ outcome: 'taken' });
  }

  /** Each of them, once, at its revision. */
  async expectHeld(records: readonly SinkRecord[]): Promise<void> {
    const keys = new Set(records.map(({ content, key }) => `${content.stream} ${key}`));
    const held = (await this.rig.held()).filter(({ stream, key }) => keys.has(`${stream} ${key}`));
    const order = (a: Held, b: Held): number => (`${a.stream} ${a.key}` < `${b.stream} ${b.key}` ? -1 : 1);
    const wanted = records.map(({ content, key, revision }) => ({ stream: content.stream, key, revision }));
    expect(held.sort(order)).toEqual(wanted.sort(order));
  }
}

export function describeSink(name: string, startRig: () => Promise<SinkRig>): void {
  describe(`the sink ${name}`, () => {
    const stand = new Stand();
    beforeAll(() => stand.start(startRig), 60_000);
    afterAll(() => stand.stop(), 60_000);
    testTaking(stand);
    testFailing(stand);
    test('what it reads back of a day is what it was sent', async () => {
      if (stand.sink.readHeld === undefined) return;
      const held = (await stand.rig.held()).filter(
        ({ stream, key }) => stream === 'rollups' && key.includes('|1m|'),
      );
      const [manifest, ...others] = await stand.sink.readHeld({ day: DAY, period: '1m' }, soon());
      expect(others).toEqual([]);
      expect(manifest).toMatchObject({ rows: held.length, day: DAY, period: '1m' });
      expect(manifest!.highestRevision).toBe(Math.max(...held.map(({ revision }) => revision)));
    });
  });
}

function testTaking(stand: Stand): void {
  test('a batch that is taken is there, once; the same batch again changes nothing', async () => {
    const records = rollupRecords(Math.min(stand.sink.recordsMost, 500));
    await stand.expectTaken(records);
    await stand.expectHeld(records);
    await stand.expectTaken(records);
    await stand.expectHeld(records);
  });

  test('a higher revision replaces, a lower one does not', async () => {
    for (const revision of [2, 7, 3]) await stand.expectTaken([rollupRecord(3, revision)]);
    await stand.expectHeld([rollupRecord(3, 7)]);
  });

  test('records of every stream are taken', async () => {
    const records = eachStream().map((record) => ({ ...record, revision: record.revision + 10 }));
    await stand.expectTaken(records);
    await stand.expectHeld(records.filter(({ content }) => content.row !== null));
  });

  test('no records are taken at once', async () => {
    await stand.expectTaken([]);
  });
}

function testFailing(stand: Stand): void {
  test('a call that is given up ends at once, with nothing said of it', async () => {
    const sent = await stand.sink.send([rollupRecord(900)], AbortSignal.abort());
    expect(sent.outcome).toBe('later');
    await stand.sink.close();
    await stand.sink.open(soon());
    await stand.expectTaken([rollupRecord(900)]);
    await stand.expectHeld([rollupRecord(900)]);
  });

  test('while the receiver is dead it says later; when it is back the batch is taken, once', async () => {
    const { sink, rig } = stand;
    if (rig.kill === null) return;
    await rig.kill();
    const records = rollupRecords(20, 1_000);
    expect((await sink.send(records, soon(5_000))).outcome).toBe('later');
    await sink.close();
    const again = await sink.open(soon(5_000)).then(
      () => sink.send(records, soon(5_000)),
      () => null,
    );
    expect(again?.outcome ?? 'later').toBe('later');
    await rig.restart();
    await sink.close();
    await sink.open(soon());
    await stand.expectTaken(records);
    await stand.expectHeld(records);
  }, 60_000);

  test('closing twice is closing once, and it can be opened again', async () => {
    const { sink } = stand;
    await sink.close();
    await sink.close();
    expect((await sink.send([rollupRecord(1)], soon())).outcome).toBe('later');
    await sink.open(soon());
    await stand.expectTaken([rollupRecord(1_100)]);
  });
}
