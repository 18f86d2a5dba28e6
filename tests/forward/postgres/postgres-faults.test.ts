/** The sink `postgres` when the way to the server, or the server, fails under it. Needs postgresql and openssl. */
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { makeCertificate } from '../../notify/mailbox.js';
import { sleep } from '../../support/child.js';
import {
  findPostgres,
  startCluster,
  WITHOUT_POSTGRES,
  type Cluster,
} from '../../support/postgres-cluster.js';
import { startStallingProxy } from '../../support/stalling-proxy.js';
import { DAY, manyRollups, rollupRecord, rollupRow, sumManifests } from '../sample-records.js';
import { expectedHeld, makeSink, readRollups, reopen, SCHEMA, startSink, within } from './rig.js';

const bin = findPostgres();
if (bin === null) it(WITHOUT_POSTGRES, () => console.warn(WITHOUT_POSTGRES));
else {
  describe('a server that dies', () => runKills(bin));
  describe('a wire that fails', () => runWires(bin));
  describe('logins and TLS', () => runLogins(bin));
}

function runKills(bin: string): void {
  let cluster: Cluster;
  beforeAll(async () => {
    cluster = await startCluster(bin, { settings: ['fsync = off'] }); // processes die here, not the power
  });
  afterAll(() => cluster.remove());

  it('in the middle of merges loses nothing and doubles nothing', { timeout: 120_000 }, async () => {
    const sink = await startSink(cluster.port);
    const rows = manyRollups(20_000);
    const answers: string[] = [];
    let killed = 0;
    for (let i = 0; i < rows.length;) {
      const batch = rows.slice(i, i + sink.recordsMost).map((row) => rollupRecord(row));
      const sending = sink.send(batch, within(10_000));
      if (killed < 5 && i >= killed * 4_000) {
        await sleep(8 + killed * 9); // copying, merging, committing: wherever it is by then
        await cluster.kill();
        killed += 1;
        const sent = await sending;
        answers.push(sent.outcome);
        await cluster.start();
        await reopen(sink);
        if (sent.outcome === 'taken') i += sink.recordsMost;
        continue;
      }
      const sent = await sending;
      answers.push(sent.outcome);
      if (sent.outcome === 'taken') i += sink.recordsMost;
      else await sleep(50);
    }
    expect(killed).toBe(5);
    expect(answers).toContain('later');
    expect(answers).not.toContain('refused');
    const client = await cluster.connect();
    expect(await readRollups(client)).toEqual(expectedHeld(rows));
    await client.end();
    const held = await sink.readHeld!({ day: DAY, period: '1m' }, within(5_000));
    expect(held).toEqual(sumManifests(rows, DAY, '1m'));
    await sink.close();
  });

  it('is told of in words while it is away, and found again', async () => {
    const sink = makeSink(cluster.port);
    await sink.open(within(5_000));
    await cluster.kill();
    const records = [rollupRecord(rollupRow('booster-4/de', DAY, 9))];
    expect(await sink.send(records, within(5_000))).toMatchObject({ outcome: 'later' });
    await expect(sink.open(within(5_000))).rejects.toThrow('ECONNREFUSED');
    await cluster.start();
    await reopen(sink);
    expect(await sink.send(records, within(5_000))).toEqual({ outcome: 'taken' });
    await sink.close();
  });
}

function runWires(bin: string): void {
  let cluster: Cluster;
  beforeAll(async () => {
    cluster = await startCluster(bin, { settings: ['fsync = off'] });
    const sink = await startSink(cluster.port);
    await sink.close();
  });
  afterAll(() => cluster.remove());

  it('that drops packets without a reset is cut at the deadline, and the next batch goes over a new one', async () => {
    const wire = await startStallingProxy(cluster.port);
    const sink = await startSink(wire.port);
    const rows = manyRollups(900);
    const send = (from: number, ms: number) =>
      sink.send(
        rows.slice(from, from + 300).map((row) => rollupRecord(row)),
        within(ms),
      );
    expect(await send(0, 5_000)).toEqual({ outcome: 'taken' });
    wire.stall();
    const began = performance.now();
    expect(await send(300, 700)).toMatchObject({
      outcome: 'later',
      reason: expect.stringContaining('deadline') as string,
    });
    expect(performance.now() - began).toBeLessThan(2_500);
    expect(await send(300, 700)).toMatchObject({ outcome: 'later' });
    await expect(sink.open(within(300))).rejects.toThrow('deadline'); // a new one that hangs in its greeting
    wire.heal();
    await reopen(sink);
    expect(await send(300, 5_000)).toEqual({ outcome: 'taken' });
    wire.cut();
    await sleep(50);
    expect(await send(600, 5_000)).toMatchObject({ outcome: 'later' });
    await reopen(sink);
    expect(await send(600, 5_000)).toEqual({ outcome: 'taken' });
    const client = await cluster.connect();
    expect(await readRollups(client)).toEqual(expectedHeld(rows));
    await client.end();
    await sink.close();
    await wire.close();
  });

  it('whose answer to the commit is lost: the batch comes again and changes nothing', async () => {
    const wire = await startStallingProxy(cluster.port);
    const sink = makeSink(wire.port);
    await sink.open(within(5_000));
    const client = await cluster.connect();
    await client.query(`TRUNCATE ${SCHEMA}.rollups`);
    const rows = manyRollups(200);
    const records = rows.map((row) => rollupRecord(row));
    await client.query(`BEGIN; LOCK TABLE ${SCHEMA}.rollups IN EXCLUSIVE MODE`);
    const sending = sink.send(records, within(1_000));
    await sleep(300); // everything has arrived, and waits for the lock
    wire.stall();
    await client.query('COMMIT');
    expect(await sending).toMatchObject({ outcome: 'later' });
    expect(await readRollups(client)).toEqual(expectedHeld(rows)); // it was committed all the same
    const { rows: before } = await client.query(`SELECT max(received_at) AS at FROM ${SCHEMA}.rollups`);
    wire.heal();
    await reopen(sink);
    expect(await sink.send(records, within(5_000))).toEqual({ outcome: 'taken' });
    expect(await readRollups(client)).toEqual(expectedHeld(rows));
    const { rows: after } = await client.query(`SELECT max(received_at) AS at FROM ${SCHEMA}.rollups`);
    expect(after).toEqual(before);
    await client.end();
    await sink.close();
    await wire.close();
  });
}

function runLogins(bin: string): void {
  let cluster: Cluster;
  let folder: string;
  let authorities: string;
  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'tallypost-cert-'));
    const { key, cert } = makeCertificate(folder);
    authorities = readFileSync(cert, 'utf8');
    cluster = await startCluster(bin, {
      settings: ['fsync = off', 'ssl = on', `ssl_cert_file = 'server.crt'`, `ssl_key_file = 'server.key'`],
      logins: [
        'local all all trust',
        'hostssl all gateway 127.0.0.1/32 scram-sha-256',
        'host all postgres 127.0.0.1/32 trust',
      ],
      files: { 'server.crt': authorities, 'server.key': readFileSync(key, 'utf8') },
    });
    const client = await cluster.connect();
    await client.query(
      `CREATE ROLE gateway LOGIN PASSWORD 'right'; GRANT CREATE ON DATABASE postgres TO gateway`,
    );
    await client.end();
  });
  afterAll(async () => {
    await cluster.remove();
    rmSync(folder, { recursive: true });
  });
  const records = [rollupRecord(rollupRow('booster-4/de', DAY, 0))];
  const own = { user: 'gateway', encryption: 'tls' as const };

  it('with TLS and the right password it creates its own schema and is served', async () => {
    const sink = makeSink(cluster.port, own, { password: 'right', ca: authorities });
    expect(await sink.prepare!(within(5_000))).toContain('created the schema tallypost');
    await sink.open(within(5_000));
    expect(await sink.send(records, within(5_000))).toEqual({ outcome: 'taken' });
    await sink.close();
  });

  it('a certificate that nobody vouches for is taken only where the configuration says so', async () => {
    const trusting = makeSink(cluster.port, { ...own, verifyServer: false }, { password: 'right' });
    await trusting.open(within(5_000));
    expect(await trusting.send(records, within(5_000))).toEqual({ outcome: 'taken' });
    await trusting.close();
    const careful = makeSink(cluster.port, own, { password: 'right' });
    await expect(careful.open(within(5_000))).rejects.toThrow(/self.signed/);
  });

  const elsewhere = () => `postgresql://127.0.0.1:${cluster.port}/nowhere`;
  it.each([
    ['a wrong password', {}, 'wrong', /28P01.*check user and password/],
    [
      'no TLS where the server asks for it',
      { encryption: 'none' },
      'right',
      /28000.*check user and password/,
    ],
    ['an unknown database', { url: '' }, 'right', /3D000.*create the database/],
  ] as const)('%s: not opened, and what to do', async (_, change, password, reason) => {
    const there = 'url' in change ? { url: elsewhere() } : change;
    const sink = makeSink(cluster.port, { ...own, ...there }, { password, ca: authorities });
    await expect(sink.open(within(5_000))).rejects.toThrow(reason);
    await expect(sink.prepare!(within(5_000))).rejects.toThrow(reason);
    expect(await sink.send(records, within(5_000))).toMatchObject({ outcome: 'later' });
    await sink.close();
  });

  it('a server without TLS is not spoken to in the clear', async () => {
    const plain = await startCluster(bin, { settings: ['fsync = off'] });
    const sink = makeSink(plain.port, own, { password: 'secret' });
    await expect(sink.open(within(5_000))).rejects.toThrow(/SSL/);
    await sink.close();
    await plain.remove();
  });
}
