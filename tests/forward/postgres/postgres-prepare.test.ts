/** What `prepare` creates, adds and tells, against a real server. Needs postgresql. */
import type { Client } from 'pg';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { Sink } from '../../../src/forward/sink.js';
import {
  findPostgres,
  startCluster,
  WITHOUT_POSTGRES,
  type Cluster,
} from '../../support/postgres-cluster.js';
import { DAY, newestOf, rollupRecord, rollupRow, sumManifests } from '../sample-records.js';
import { expectedHeld, makeSink, readRollups, reopen, SCHEMA, sendAll, startSink, within } from './rig.js';

const bin = findPostgres();
if (bin === null) it(WITHOUT_POSTGRES, () => console.warn(WITHOUT_POSTGRES));
else {
  describe('prepare', () => runSuite(bin));
  describe('hypertables, with a stand-in for the extension', () => runStandIn(bin));
}

const TABLES = ['rollups', 'transients', 'alarms', 'journal', 'manifests'];

function runSuite(bin: string): void {
  let cluster: Cluster;
  let client: Client;
  let sink: Sink;
  beforeAll(async () => {
    cluster = await startCluster(bin);
    client = await cluster.connect();
    sink = makeSink(cluster.port);
  });
  afterAll(async () => {
    await client.end();
    await cluster.remove();
  });
  beforeEach(() => client.query(`DROP SCHEMA IF EXISTS ${SCHEMA} CASCADE`));
  const prepare = async (): Promise<readonly string[]> => sink.prepare!(within(10_000));

  it('creates everything, and finds it as it should be the next time', async () => {
    const first = await prepare();
    expect(first[0]).toMatch(/^PostgreSQL \d+/);
    expect(first.slice(1)).toEqual([
      'created the schema tallypost',
      ...TABLES.map((name) => `created the table tallypost.${name}`),
      'no extension for hypertables: plain tables',
    ]);
    expect((await prepare()).slice(1)).toEqual([
      ...TABLES.map((name) => `the table tallypost.${name} is as it should be`),
      'no extension for hypertables: plain tables',
    ]);
  });

  it('describes each column with its unit at the receiver', async () => {
    await prepare();
    const { rows } = await client.query<{ comment: string }>(
      `SELECT col_description('${SCHEMA}.rollups'::regclass, attnum) AS comment FROM pg_attribute
       WHERE attrelid = '${SCHEMA}.rollups'::regclass AND attname = 'rate_per_min'`,
    );
    expect(rows[0]!.comment).toMatch(/pulses per minute; null: no running exposure/);
    const { rows: bare } = await client.query(
      `SELECT attname FROM pg_attribute a JOIN pg_class c ON c.oid = attrelid
       WHERE relnamespace = '${SCHEMA}'::regnamespace AND relkind = 'r' AND attnum > 0
       AND col_description(c.oid, attnum) IS NULL`,
    );
    expect(bare).toEqual([]);
  });

  it('says what is other than it should be, adds what can be added, and drops nothing', async () => {
    await prepare();
    await client
      .query(`ALTER TABLE ${SCHEMA}.rollups ALTER COLUMN uncertain_ms TYPE integer`)
      .catch(async () => {
        await client.query(`DROP VIEW ${SCHEMA}.rollups_newest`);
        await client.query(`ALTER TABLE ${SCHEMA}.rollups ALTER COLUMN uncertain_ms TYPE integer`);
      });
    await client.query(`ALTER TABLE ${SCHEMA}.alarms DROP COLUMN held_by, DROP COLUMN note`);
    await client.query(`ALTER TABLE ${SCHEMA}.alarms ALTER COLUMN since SET NOT NULL`);
    await client.query(`ALTER TABLE ${SCHEMA}.alarms ADD COLUMN area text NOT NULL, ADD COLUMN seen boolean`);
    await client.query(`ALTER TABLE ${SCHEMA}.journal DROP CONSTRAINT journal_pkey`);
    const says = await prepare();
    expect(says).toContain(
      'tallypost.rollups.uncertain_ms is of type integer, expected bigint: alter it, or move the table away',
    );
    expect(says).toContain('added the column tallypost.alarms.held_by');
    const said = (start: string): string => says.find((sentence) => sentence.startsWith(start)) ?? '';
    expect(said('tallypost.alarms.note')).toMatch(
      /is missing and must not be null: ALTER TABLE .* ADD COLUMN/,
    );
    expect(said('tallypost.alarms.since')).toMatch(/must take null.*DROP NOT NULL$/);
    expect(said('tallypost.alarms.area')).toMatch(/is not ours and must not be null: give it a default/);
    expect(said('tallypost.journal has no unique key')).toMatch(/ADD PRIMARY KEY \("site", "number"\)$/);
    expect(says.some((sentence) => sentence.includes('seen'))).toBe(false);
    for (const statement of says.flatMap(
      (sentence) => /ALTER TABLE .*(?:NULL|\))$/.exec(sentence)?.[0] ?? [],
    ))
      await client.query(statement);
    await client.query(
      `ALTER TABLE ${SCHEMA}.alarms ADD COLUMN note text NOT NULL DEFAULT '', DROP COLUMN area`,
    );
    await client.query(`DROP VIEW ${SCHEMA}.rollups_newest`);
    await client.query(`ALTER TABLE ${SCHEMA}.rollups ALTER COLUMN uncertain_ms TYPE bigint`);
    expect((await prepare()).filter((sentence) => sentence.includes('as it should be'))).toHaveLength(5);
    await sink.open(within(5_000));
    await sendAll(sink, [rollupRecord(rollupRow('booster-4/de', DAY, 0))]);
    await sink.close();
  });

  it('warns of a server that may lose what it said it holds, and of an encoding that cannot write all', async () => {
    await client.query(`ALTER SYSTEM SET fsync = off`);
    await client.query(`SELECT pg_reload_conf()`);
    await client.query(`CREATE DATABASE latin ENCODING 'LATIN1' LOCALE 'C' TEMPLATE template0`);
    const latin = makeSink(cluster.port, { url: `postgresql://127.0.0.1:${cluster.port}/latin` });
    const says = await latin.prepare!(within(5_000));
    expect(says.find((sentence) => sentence.includes('encoded in LATIN1'))).toMatch(/use a database in UTF8/);
    expect(says.find((sentence) => sentence.includes('fsync'))).toMatch(/set fsync = on/);
  });

  it('a session is durable even where the server’s default is not', async () => {
    await prepare();
    await client.query(`ALTER SYSTEM SET synchronous_commit = off`);
    await client.query(`SELECT pg_reload_conf()`);
    await sink.open(within(5_000));
    await client.query(`CREATE TABLE ${SCHEMA}.seen AS SELECT ''::text AS setting`);
    await client.query(
      `CREATE FUNCTION ${SCHEMA}.look() RETURNS trigger LANGUAGE plpgsql AS
       $$ BEGIN UPDATE ${SCHEMA}.seen SET setting = current_setting('synchronous_commit'); RETURN NULL; END $$;
       CREATE TRIGGER look AFTER INSERT ON ${SCHEMA}.rollups EXECUTE FUNCTION ${SCHEMA}.look()`,
    );
    await sendAll(sink, [rollupRecord(rollupRow('booster-4/de', DAY, 0))]);
    expect((await client.query(`SELECT * FROM ${SCHEMA}.seen`)).rows).toEqual([{ setting: 'local' }]);
    await sink.close();
  });
}

/**
 * The extension itself is not on this machine. The stand-in has the names of its catalogue and a table that refuses every
 * merge into its closed part, as an old release refuses it: what is tried is our side, not the extension.
 */
function runStandIn(bin: string): void {
  let cluster: Cluster;
  let client: Client;
  beforeAll(async () => {
    cluster = await startCluster(bin, { settings: ['allow_system_table_mods = on', 'fsync = off'] });
    client = await cluster.connect();
    await client.query(`
      INSERT INTO pg_extension (oid, extname, extowner, extnamespace, extrelocatable, extversion)
        VALUES (99999, 'timescaledb', 10, 'public'::regnamespace, false, '2.0');
      CREATE SCHEMA timescaledb_information;
      CREATE TABLE timescaledb_information.hypertables (hypertable_schema name, hypertable_name name);
      CREATE TABLE timescaledb_information.chunks (hypertable_schema name, hypertable_name name,
        range_start timestamptz, range_end timestamptz, is_compressed boolean);
      CREATE FUNCTION public.create_hypertable(relation regclass, time_column_name name,
        chunk_time_interval interval, if_not_exists boolean) RETURNS text LANGUAGE sql AS
        $$ INSERT INTO timescaledb_information.hypertables
           SELECT relnamespace::regnamespace::text, relname FROM pg_class WHERE oid = relation; SELECT 'done' $$;`);
  });
  afterAll(async () => {
    await client.end();
    await cluster.remove();
  });
  beforeEach(async () => {
    await client.query(`DROP SCHEMA IF EXISTS ${SCHEMA} CASCADE`);
    await client.query(
      `TRUNCATE timescaledb_information.hypertables; TRUNCATE timescaledb_information.chunks`,
    );
  });
  const close = async (from: number, to: number): Promise<void> => {
    await client.query(`INSERT INTO timescaledb_information.chunks VALUES ($1, 'rollups', $2, $3, true)`, [
      ...[SCHEMA, new Date(from), new Date(to)],
    ]);
    await client.query(
      `CREATE FUNCTION ${SCHEMA}.refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
         IF NEW.start < '${new Date(to).toISOString()}' THEN
           RAISE EXCEPTION USING ERRCODE = '0A000', MESSAGE = 'the chunk is compressed';
         END IF; RETURN NEW; END $$;
       CREATE TRIGGER refuse BEFORE INSERT OR UPDATE ON ${SCHEMA}.rollups FOR EACH ROW EXECUTE FUNCTION ${SCHEMA}.refuse()`,
    );
  };

  it('an empty table is made one, a table with rows is left to the administrator', async () => {
    const sink = makeSink(cluster.port);
    const says = await sink.prepare!(within(5_000));
    expect(says.slice(-2)).toEqual([
      'made tallypost.rollups a hypertable',
      'late revisions of compressed chunks go to tallypost.rollups_late',
    ]);
    expect((await sink.prepare!(within(5_000))).some((s) => s.includes('made'))).toBe(false);
    await client.query(`DROP SCHEMA ${SCHEMA} CASCADE; TRUNCATE timescaledb_information.hypertables`);
    const plain = await startSink(cluster.port, { hypertables: 'never' });
    await sendAll(plain, [rollupRecord(rollupRow('booster-4/de', DAY, 0))]);
    await plain.close();
    expect((await sink.prepare!(within(5_000))).at(-1)).toMatch(
      /plain table with rows: .*migrate_data => true/,
    );
  });

  it('late revisions of closed chunks are kept beside it, and readers see the highest of both', async () => {
    const sink = await startSink(cluster.port);
    const first = [0, 1, 2, 3].map((minute) => rollupRow('booster-4/de', DAY + minute * 60_000, 1));
    await sendAll(
      sink,
      first.map((row) => rollupRecord(row)),
    );
    await close(DAY - 60_000, DAY + 120_000);
    const late = [
      rollupRow('booster-4/de', DAY, 2), // closed: newer than what is there
      rollupRow('booster-4/de', DAY + 60_000, 0), // closed: older than what is there
      rollupRow('booster-4/nde', DAY, 0), // closed: not there at all
      rollupRow('booster-4/de', DAY + 120_000, 4), // open
    ];
    await sendAll(
      sink,
      late.map((row) => rollupRecord(row)),
    );
    await sendAll(
      sink,
      [...late, rollupRow('booster-4/de', DAY, 3)].map((row) => rollupRecord(row)),
    );
    const all = [...first, ...late, rollupRow('booster-4/de', DAY, 3)];
    expect(await readRollups(client, 'rollups_newest')).toEqual(expectedHeld(newestOf(all)));
    expect(await readRollups(client, 'rollups')).toHaveLength(4);
    expect(await sink.readHeld!({ day: DAY, period: '1m' }, within(5_000))).toEqual(
      sumManifests(all, DAY, '1m'),
    );
    await sink.close();
  });

  it('a chunk that closes between the look and the merge makes the batch come later, not refused', async () => {
    const sink = await startSink(cluster.port);
    await close(DAY - 60_000, DAY + 120_000);
    await client.query(`UPDATE timescaledb_information.chunks SET is_compressed = false`);
    const records = [rollupRecord(rollupRow('booster-4/de', DAY, 2))];
    expect(await sink.send(records, within(5_000))).toMatchObject({
      outcome: 'later',
      reason: expect.stringMatching(/^0A000/) as string,
    });
    await client.query(`UPDATE timescaledb_information.chunks SET is_compressed = true`);
    await reopen(sink);
    await sendAll(sink, records);
    expect(await readRollups(client, 'rollups_newest')).toHaveLength(1);
    await sink.close();
  });
}
