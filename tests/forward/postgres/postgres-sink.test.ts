/** The sink `postgres` against a real server: what is stored, what is replaced, what each refusal means. Needs postgresql. */
import type { Client } from 'pg';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { Sink, SinkRecord } from '../../../src/forward/sink.js';
import {
  findPostgres,
  startCluster,
  WITHOUT_POSTGRES,
  type Cluster,
} from '../../support/postgres-cluster.js';
import { seedRandom } from '../../support/seeded-random.js';
import {
  alarmRecord,
  DAY,
  journalRecord,
  manifestRecord,
  manyRollups,
  newestOf,
  rollupRecord,
  rollupRow,
  SENSORS,
  sumManifests,
  transientRecord,
} from '../sample-records.js';
import {
  expectedHeld,
  makeSink,
  readRollups,
  reopen,
  SCHEMA,
  sendAll,
  SITE,
  startSink,
  within,
} from './rig.js';

const bin = findPostgres();
if (bin === null) it(WITHOUT_POSTGRES, () => console.warn(WITHOUT_POSTGRES));
else describe('the sink postgres', () => runSuite(bin));

function runSuite(bin: string): void {
  let cluster: Cluster;
  let client: Client;
  let sink: Sink;
  beforeAll(async () => {
    cluster = await startCluster(bin, { settings: ['fsync = off', 'deadlock_timeout = 100ms'] });
  });
  afterAll(() => cluster.remove());
  beforeEach(async () => {
    client = await cluster.connect();
    await client.query(`DROP SCHEMA IF EXISTS ${SCHEMA} CASCADE`);
    sink = await startSink(cluster.port);
  });
  afterEach(async () => {
    await sink.close();
    await client.end();
  });
  const ask = async (text: string): Promise<Record<string, unknown>[]> =>
    (await client.query<Record<string, unknown>>(text)).rows;

  it('stores one record of each stream, column by column', async () => {
    await client.query(`SET timezone = 'Pacific/Auckland'`); // what the reader has set changes no instant
    const rollup = rollupRow('booster-4/de', DAY, 3);
    [rollup.pulses[6], rollup.ms[6]] = [1_234, 50_000];
    const records = [
      rollupRecord(rollup),
      transientRecord(DAY + 5_000, 2),
      alarmRecord(),
      journalRecord(17),
      manifestRecord({
        ...{ sensor: 'booster-4/de', period: '1m', day: DAY, rows: 1_440, pulses: 9, ms: 8 },
        highestRevision: 4,
      }),
    ];
    expect(await sink.send(records, within(5_000))).toEqual({ outcome: 'taken' });
    const [row] = await ask(`SELECT * FROM ${SCHEMA}.rollups`);
    expect(row).toMatchObject({
      ...{ site: SITE, sensor: 'booster-4/de', period: '1m', start: new Date(DAY), revision: '3' },
      ...{ pulses_running: String(rollup.pulses[6]), ms_running: String(rollup.ms[6]) },
      ...{ pulses_check: '1', ms_check: '10', pulses_transient: '2', ms_transient: '20', uncertain_ms: '30' },
      ...{ pulses_background: '3', ms_background: String(rollup.ms[7]), bins: rollup.bins },
      rate_per_min: 1480.8,
      received_at: expect.any(Date) as Date,
    });
    expect(await ask(`SELECT * FROM ${SCHEMA}.transients`)).toMatchObject([
      {
        ...{ motor: 'booster-4', began_at: new Date(DAY + 5_000), ended_at: new Date(DAY + 25_000) },
        ...{ edges: '2', kind: 'start', withdrawn: false, revision: '2' },
        counts: [{ sensor: 'booster-4/de', pulses: 40, ms: 9_000 }, { sensor: 'intake-1/de' }],
      },
    ]);
    const [alarm] = await ask(`SELECT * FROM ${SCHEMA}.alarms`);
    expect(alarm).toMatchObject({
      ...{
        id: 'booster-4.de-rate-high',
        state: 'unacknowledged',
        active: true,
        since: new Date(DAY + 660_000),
      },
      ...{ shelved_until: null, suppressed_by: null, held_by: null, sensor: 'booster-4/de' },
      evidence: {
        lower_per_min: 861.5,
        says: 'The rate’s lower limit lay above the setpoint:\t861.5 > 300\nfor 1 min \\ of running.',
      },
    });
    expect(await ask(`SELECT * FROM ${SCHEMA}.journal`)).toMatchObject([
      {
        number: '17',
        text: `Entry 17: "quoted", 'single', tab\tand\r\nlines`,
        state_after: 'unacknowledged',
      },
    ]);
    expect(await ask(`SELECT *, day::text AS day FROM ${SCHEMA}.manifests`)).toMatchObject([
      { day: '2026-03-02', rows: '1440', pulses: '9', ms: '8', highest_revision: '4' },
    ]);
  });

  it('a rate without running exposure is null, not zero', async () => {
    const row = {
      ...rollupRow('booster-4/de', DAY, 0),
      pulses: Array(9).fill(0),
      ms: Array(9).fill(0),
      bins: [],
    };
    await sendAll(sink, [rollupRecord(row)]);
    expect(await ask(`SELECT rate_per_min, bins FROM ${SCHEMA}.rollups`)).toEqual([
      { rate_per_min: null, bins: [] },
    ]);
  });

  it('holds each record once, at its highest revision, whatever the order, repeats and batches', async () => {
    const random = seedRandom(11);
    const firsts = manyRollups(2_400);
    const rows = firsts.flatMap((row) =>
      [0, 1, 2, 5]
        .filter((revision) => revision === 0 || random() < 0.4)
        .map((revision) => rollupRow(row.sensor, row.start, revision)),
    );
    const twice = [...rows, ...rows.filter(() => random() < 0.3)]
      .map((row) => ({ row, at: random() }))
      .sort((a, b) => a.at - b.at)
      .map(({ row }) => rollupRecord(row, random() < 0.5));
    for (let i = 0; i < twice.length;) {
      const size = 1 + Math.floor(random() * 700);
      expect(await sink.send(twice.slice(i, i + size), within(10_000))).toEqual({ outcome: 'taken' });
      i += size;
    }
    expect(await readRollups(client)).toEqual(expectedHeld(newestOf(rows)));
    const held = await sink.readHeld!({ day: DAY, period: '1m' }, within(5_000));
    expect(held).toEqual(sumManifests(rows, DAY, '1m'));
    expect(held.map(({ sensor }) => sensor)).toEqual([...SENSORS].sort());
  });

  it('reads a day from midnight to midnight UTC, one period, one site', async () => {
    const rows = [DAY - 60_000, DAY, DAY + 86_340_000, DAY + 86_400_000].map((start) =>
      rollupRow('booster-4/de', start, 1),
    );
    await sendAll(
      sink,
      [...rows, rollupRow('booster-4/de', DAY, 0, '1h')].map((row) => rollupRecord(row)),
    );
    await client.query(`CREATE TEMP TABLE other AS SELECT * FROM ${SCHEMA}.rollups`);
    await client.query(`UPDATE other SET site = 'elsewhere'`);
    await client.query(`INSERT INTO ${SCHEMA}.rollups SELECT * FROM other`);
    expect(await sink.readHeld!({ day: DAY, period: '1m' }, within(5_000))).toEqual(
      sumManifests(rows, DAY, '1m'),
    );
    expect(await sink.readHeld!({ day: DAY + 7 * 86_400_000, period: '1m' }, within(5_000))).toEqual([]);
  });

  it('marks a transient as withdrawn, and an older revision does not bring it back', async () => {
    await sendAll(sink, [transientRecord(DAY, 1)]);
    await sendAll(sink, [transientRecord(DAY, 2, true)]);
    await sendAll(sink, [transientRecord(DAY, 1)]);
    expect(await ask(`SELECT withdrawn, revision, kind, counts FROM ${SCHEMA}.transients`)).toEqual([
      { withdrawn: true, revision: '2', kind: null, counts: null },
    ]);
  });

  it.each([
    ['a character that no text takes', { text: 'spark\u0000 at the coupling' }, /22021.*line 251/],
    ['the same inside JSON', { evidence: { says: 'a\u0000b' } }, /22P05|22P02|evidence/],
    ['a time that is none', { at: Number.NaN }, /22007|journal 250/],
  ])('names the one record in 500 that it will never take: %s', async (_, change, reason) => {
    const records: SinkRecord[] = Array.from({ length: 500 }, (_unused, i) => journalRecord(i));
    const broken = journalRecord(250, change as never);
    if ('evidence' in change) {
      const { row } = journalRecord(250).content as { row: { evidence: object } };
      (broken.content as { row: { evidence: object } }).row.evidence = {
        ...row.evidence,
        ...change.evidence,
      };
    }
    records[250] = broken;
    const sent = await sink.send(records, within(5_000));
    expect(sent).toMatchObject({
      outcome: 'refused',
      index: 250,
      reason: expect.stringMatching(reason) as string,
    });
    expect(await ask(`SELECT count(*) FROM ${SCHEMA}.journal`)).toEqual([{ count: '0' }]);
    expect(await sink.send(records.toSpliced(250, 1), within(5_000))).toEqual({ outcome: 'taken' });
    expect(await ask(`SELECT count(*) FROM ${SCHEMA}.journal`)).toEqual([{ count: '499' }]);
  });

  it('refuses what a constraint of the site refuses, without naming the record', async () => {
    await client.query(`ALTER TABLE ${SCHEMA}.rollups ADD CHECK (pulses_running < 1000000)`);
    const row = rollupRow('booster-4/de', DAY, 0);
    row.pulses[6] = 2_000_000;
    const records = [rollupRecord(rollupRow('booster-4/de', DAY + 60_000, 0)), rollupRecord(row)];
    expect(await sink.send(records, within(5_000))).toMatchObject({ outcome: 'refused', index: null });
    expect(await ask(`SELECT count(*) FROM ${SCHEMA}.rollups`)).toEqual([{ count: '0' }]);
  });

  it('what an administrator can mend comes later, with a sentence that says how', async () => {
    const records = [rollupRecord(rollupRow('booster-4/de', DAY, 0))];
    await sendAll(sink, records);
    await client.query(`ALTER TABLE ${SCHEMA}.rollups RENAME COLUMN bins TO cells`);
    const renamed = await sink.send(records, within(5_000));
    expect(renamed).toMatchObject({
      outcome: 'later',
      reason: expect.stringMatching(/42703.*sinks prepare/s) as string,
    });
    await client.query(`DROP TABLE ${SCHEMA}.rollups CASCADE`);
    const missing = await sink.send(records, within(5_000));
    expect(missing).toMatchObject({
      outcome: 'later',
      reason: expect.stringMatching(/42P01.*sinks prepare/s) as string,
    });
    await sink.close();
    await expect(sink.open(within(5_000))).rejects.toThrow(/tables are missing.*sinks prepare plant-db/);
    expect(await sink.send(records, within(5_000))).toMatchObject({ outcome: 'later' });
    await sink.prepare!(within(5_000));
    await reopen(sink);
    expect(await sink.send(records, within(5_000))).toEqual({ outcome: 'taken' });
  });

  it('a login without the privileges is told which it lacks, and is served once it has them', async () => {
    await client.query(`DROP ROLE IF EXISTS gateway`);
    await client.query(`CREATE ROLE gateway LOGIN; GRANT USAGE ON SCHEMA ${SCHEMA} TO gateway`);
    const limited = makeSink(cluster.port, { user: 'gateway' });
    await limited.open(within(5_000));
    const records = [rollupRecord(rollupRow('booster-4/de', DAY, 0)), alarmRecord()];
    expect(await limited.send(records, within(5_000))).toMatchObject({
      outcome: 'later',
      reason: expect.stringMatching(/42501: permission denied for table .*; grant/) as string,
    });
    await client.query(`GRANT SELECT, INSERT, UPDATE ON ALL TABLES IN SCHEMA ${SCHEMA} TO gateway`);
    expect(await limited.send(records, within(5_000))).toEqual({ outcome: 'taken' });
    expect(await limited.readHeld!({ day: DAY, period: '1m' }, within(5_000))).toHaveLength(1);
    await limited.close();
    await client.query(`DROP OWNED BY gateway; DROP ROLE gateway`);
  });

  it('two writers of the same records in opposite orders neither deadlock nor double', async () => {
    const other = await startSink(cluster.port);
    const rows = manyRollups(800);
    const up = (revision: number) =>
      rows.map((row) => rollupRecord(rollupRow(row.sensor, row.start, revision)));
    for (let round = 0; round < 6; round++) {
      const answers = await Promise.all([
        sink.send(up(2 * round), within(20_000)),
        other.send(up(2 * round + 1).reverse(), within(20_000)),
      ]);
      expect(answers).toEqual([{ outcome: 'taken' }, { outcome: 'taken' }]);
    }
    await other.close();
    expect(await readRollups(client)).toEqual(
      expectedHeld(rows.map((r) => rollupRow(r.sensor, r.start, 11))),
    );
    expect(await ask(`SELECT deadlocks FROM pg_stat_database WHERE datname = 'postgres'`)).toEqual([
      { deadlocks: '0' },
    ]);
  });

  it('a lock that is held for long is told as such', async () => {
    const hasty = await startSink(cluster.port, { deadlineMs: 750 });
    const records = [rollupRecord(rollupRow('booster-4/de', DAY, 0))];
    await sendAll(hasty, records);
    await client.query(`BEGIN; LOCK TABLE ${SCHEMA}.rollups IN ACCESS EXCLUSIVE MODE`);
    expect(await hasty.send(records, within(5_000))).toMatchObject({
      outcome: 'later',
      reason: expect.stringMatching(/55P03.*holds a lock/) as string,
    });
    await client.query('ROLLBACK');
    expect(await hasty.send(records, within(5_000))).toEqual({ outcome: 'taken' });
    await hasty.close();
  });
}
