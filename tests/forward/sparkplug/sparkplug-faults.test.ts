/** The sink `sparkplug` under storms, restarts and a silent wire, against a real broker. Needs mosquitto. */
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { Sink } from '../../../src/forward/sink.js';
import { sleep } from '../../support/child.js';
import {
  hasMosquitto,
  listenTo,
  startMosquitto,
  WITHOUT_MOSQUITTO,
  type Listener,
  type MosquittoBroker,
} from '../../support/heard-broker.js';
import { startStallingProxy } from '../../support/stalling-proxy.js';
import { alarmRecord, DAY, journalRecord, manyRollups, rollupRecord, rollupRow } from '../sample-records.js';
import { decodePayload } from './decode.js';
import { askRebirth, Host, makeMemory, makeSink, topic, within } from './rig.js';

const record = (minute: number, revision = 0) =>
  rollupRecord(rollupRow('booster-4/de', DAY + minute * 60_000, revision));

function runSuite(): void {
  let broker: MosquittoBroker;
  let host: Listener;
  let sink: Sink;
  beforeAll(async () => {
    broker = await startMosquitto();
  });
  afterAll(() => broker.stop());
  beforeEach(async () => {
    host = await listenTo(broker.url, ['spBv1.0/#']);
  });
  afterEach(async () => {
    await sink.close();
    await host.close();
  });
  const births = () => host.heard.filter(({ topic: on }) => on === topic('NBIRTH'));
  const bdSeqs = () => births().map(({ payload }) => decodePayload(payload).metrics[0]!.value);

  it('a clock that is put back by hours holds up no birth that is asked for', async () => {
    const rebirthMs = 300;
    const clock = { ms: 0 };
    sink = makeSink(broker.url, { rebirthMs }, undefined, { now: () => Date.now() + clock.ms });
    await sink.open(within(5_000));
    const before = births().length;
    clock.ms = -5 * 3_600_000;
    await askRebirth(host.client);
    await host.expect('a birth on request', () => births().length > before);
  });

  it('a storm of a thousand rebirth requests makes births no closer than allowed, and one after the last of them', async () => {
    const rebirthMs = 700;
    sink = makeSink(broker.url, { rebirthMs });
    await sink.open(within(5_000));
    await sink.send([record(1), alarmRecord()], within(5_000));
    await sleep(rebirthMs + 50);
    const before = births().length;
    const storm = Array.from({ length: 1_000 }, () => askRebirth(host.client));
    await host.expect('the first answer', () => births().length > before);
    await Promise.all(storm);
    const lastAskedAt = Date.now();
    await sleep(2 * rebirthMs); // an answer that had to wait has come by now
    const times = births().map(({ payload }) => decodePayload(payload).timestamp!);
    const gaps = times.slice(before + 1).map((at, i) => at - times[before + i]!);
    expect(gaps.length).toBeGreaterThan(0);
    expect(Math.min(...gaps)).toBeGreaterThanOrEqual(rebirthMs - 2); // timers may fire within a millisecond before
    expect(times.length - before).toBeLessThanOrEqual(2 + (Date.now() - times[before]!) / rebirthMs);
    expect(times.at(-1)!).toBeGreaterThan(lastAskedAt - rebirthMs);
    expect(await sink.send([record(2)], within(5_000))).toEqual({ outcome: 'taken' });
    expect(new Set(bdSeqs())).toEqual(new Set([0]));
  });

  it('commands that ask for nothing, and bytes that are no command, change nothing', async () => {
    sink = makeSink(broker.url, { rebirthMs: 0 });
    await sink.open(within(5_000));
    await askRebirth(host.client, false);
    for (const bytes of [
      Buffer.alloc(0),
      Buffer.from([0x12, 0xff]),
      Buffer.alloc(70_000, 0x12),
      Buffer.from('hello'),
    ])
      await host.client.publishAsync(topic('NCMD'), bytes);
    await sleep(150);
    expect(births()).toHaveLength(1);
    expect(await sink.send([record(1)], within(5_000))).toEqual({ outcome: 'taken' });
  });

  it(
    'a broker that dies and returns finds it again on its own, with the next bdSeq',
    { timeout: 20_000 },
    async () => {
      sink = makeSink(broker.url);
      await sink.open(within(5_000));
      expect(await sink.send([record(1)], within(5_000))).toEqual({ outcome: 'taken' });
      await broker.kill();
      expect(await sink.send([record(2)], within(5_000))).toMatchObject({ outcome: 'later' });
      await broker.start();
      host = await listenTo(broker.url, ['spBv1.0/#']);
      await host.expect('its birth', ({ topic: on }) => on === topic('NBIRTH'));
      const [birth] = births();
      expect(decodePayload(birth!.payload).metrics[0]!.value as number).toBeGreaterThanOrEqual(1);
      await host.expect('of its devices too', ({ topic: on }) => on === topic('DBIRTH', 'booster-4'));
      expect(await sink.send([record(2)], within(5_000))).toEqual({ outcome: 'taken' });
    },
  );

  it('a wire that falls silent is cut at the deadline: later, and all of it again', async () => {
    const wire = await startStallingProxy(broker.port);
    sink = makeSink(`mqtt://127.0.0.1:${wire.port}`);
    await sink.open(within(5_000));
    expect(await sink.send([record(1)], within(5_000))).toEqual({ outcome: 'taken' });
    wire.stall();
    const began = performance.now();
    expect(await sink.send([record(2)], within(600))).toMatchObject({ outcome: 'later' });
    expect(performance.now() - began).toBeLessThan(2_000);
    wire.heal();
    await sink.close();
    await sink.open(within(5_000));
    expect(await sink.send([record(2)], within(5_000))).toEqual({ outcome: 'taken' });
    await host.expect('the second record', ({ topic: on, payload }) => {
      return (
        on === topic('DDATA', 'booster-4') && decodePayload(payload).metrics[0]!.timestamp === DAY + 120_000
      );
    });
    await sink.close();
    await wire.close();
  });

  it('after a restart its births tell every metric that was ever sent, and bdSeq goes on past 255', async () => {
    const memory = makeMemory();
    sink = makeSink(broker.url, {}, memory);
    await sink.open(within(5_000));
    await sink.send([record(1), alarmRecord(), journalRecord(1)], within(5_000));
    await sink.close();
    await host.expect('its death', ({ topic: on }) => on === topic('NDEATH'));
    memory.json = memory.json!.replace('"bdSeq":0', '"bdSeq":254');
    host.heard.length = 0;
    for (let i = 0; i < 3; i++) {
      sink = makeSink(broker.url, {}, memory);
      await sink.open(within(5_000));
      await sleep(50);
      await sink.close();
    }
    expect(bdSeqs()).toEqual([255, 0, 1]);
    const names = decodePayload(births().at(-1)!.payload).metrics.map(({ name }) => name);
    expect(names).toContain('journal/text');
    const device = host.heard.findLast(({ topic: on }) => on === topic('DBIRTH', 'booster-4'))!;
    const metrics = decodePayload(device.payload).metrics;
    expect(metrics.map(({ name }) => name)).toContain('alarm/de-rate-high/state');
    expect(metrics.every(({ value, isNull }) => value === null && isNull)).toBe(true);
    expect(metrics.every(({ properties }) => properties['Quality']!.value === 500)).toBe(true);
  });

  it('a metric that is new is born before its first value', async () => {
    sink = makeSink(broker.url);
    await sink.open(within(5_000));
    const view = new Host();
    for (const records of [
      [record(1)],
      [record(2), alarmRecord()],
      [journalRecord(9), rollupRecord(rollupRow('intake-1/nde', DAY, 0, '1h'))],
    ])
      expect(await sink.send(records, within(5_000))).toEqual({ outcome: 'taken' });
    await host.expect('the last', ({ topic: on }) => on === topic('DDATA', 'intake-1'));
    for (const { topic: on, payload } of host.heard) view.hear(on, payload); // throws at an alias that was not born
    const told = new Set(
      view.values.map(({ device, name }) => `${device}:${name.split('/').slice(0, 2).join('/')}`),
    );
    expect([...told].sort()).toEqual([
      ...[':journal/entry', ':journal/number', ':journal/revision', ':journal/subject', ':journal/text'],
      ...['booster-4:alarm/de-rate-high', 'booster-4:de/1m', 'intake-1:nde/1h'],
    ]);
  });

  it('a large backlog arrives whole: every value once, each flagged', { timeout: 30_000 }, async () => {
    sink = makeSink(broker.url);
    await sink.open(within(5_000));
    const rows = manyRollups(8_000);
    for (let i = 0; i < rows.length; i += sink.recordsMost) {
      const batch = rows.slice(i, i + sink.recordsMost).map((row) => rollupRecord(row, true));
      expect(await sink.send(batch, within(5_000))).toEqual({ outcome: 'taken' });
    }
    const view = new Host();
    for (let i = 0; i < 100 && view.values.length < rows.length * 18; i++) {
      for (const { topic: on, payload } of host.heard.splice(0)) view.hear(on, payload);
      await sleep(50);
    }
    const pulses = view.values.filter(({ name }) => name.endsWith('/running/pulses'));
    expect(pulses.every(({ isHistorical }) => isHistorical)).toBe(true);
    const wanted = rows.map((row) => `${row.sensor} ${row.start} ${row.pulses[6]}`);
    const got = pulses.map(
      ({ device, name, at, value }) => `${device}/${name.split('/')[0]} ${at} ${String(value)}`,
    );
    expect(got.sort()).toEqual(wanted.sort());
  });
}

if (!hasMosquitto()) it(WITHOUT_MOSQUITTO, () => console.warn(WITHOUT_MOSQUITTO));
else describe('the sink sparkplug', runSuite);
