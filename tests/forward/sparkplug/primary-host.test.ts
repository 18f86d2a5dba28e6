/**
 * The edge node and its primary host: both forms of STATE, waiting, dying, and nothing lost while the host is away. Statements of
 * Sparkplug 3.0, chapter 5: edge-node-birth-publish-phid-wait, -wait-id, -wait-online, -wait-timestamp (*), -phid-offline;
 * edge-node-birth-sequence-wait. Source and marks: statements.test.ts. Needs mosquitto.
 */
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { Sink, Stretch } from '../../../src/forward/sink.js';
import { sleep } from '../../support/child.js';
import {
  hasMosquitto,
  listenTo,
  startMosquitto,
  WITHOUT_MOSQUITTO,
  type Listener,
  type MosquittoBroker,
} from '../../support/heard-broker.js';
import { DAY, rollupRecord, rollupRow } from '../sample-records.js';
import { decodePayload } from './decode.js';
import { HOST, makeSink, topic, within } from './rig.js';

const NEWER = `spBv1.0/STATE/${HOST}`;
const OLDER = `STATE/${HOST}`;
const record = (minute: number) => rollupRecord(rollupRow('booster-4/de', DAY + minute * 60_000, 0));
const WAITING = {
  outcome: 'later',
  isOpen: true,
  reason: `the primary host ${HOST} is offline`,
  retryAfterMs: 2_000,
};

function runSuite(): void {
  let broker: MosquittoBroker;
  let host: Listener;
  let sink: Sink;
  let asked: Stretch[];
  const clock = { ms: 0 };
  beforeAll(async () => {
    broker = await startMosquitto();
  });
  afterAll(() => broker.stop());
  beforeEach(async () => {
    host = await listenTo(broker.url, ['spBv1.0/tarn-hollow/#']);
    asked = [];
    const steady = (): number => performance.now() + clock.ms;
    sink = makeSink(broker.url, { primaryHost: HOST }, undefined, {
      steady,
      askAgain: (stretches) => asked.push(...stretches),
    });
  });
  afterEach(async () => {
    await sink.close();
    for (const on of [NEWER, OLDER]) await host.client.publishAsync(on, '', { qos: 1, retain: true });
    await host.close();
  });
  const tell = (on: string, payload: unknown): Promise<unknown> =>
    host.client.publishAsync(on, typeof payload === 'string' ? payload : JSON.stringify(payload), {
      ...{ qos: 1, retain: true },
    });
  const heard = (what: string) => host.heard.filter(({ topic: on }) => on.includes(`/${what}/`));
  const expectBirth = (count: number) => host.expect(`birth ${count}`, () => heard('NBIRTH').length >= count);
  const say = (isOnline: boolean, timestamp: number) => tell(NEWER, { online: isOnline, timestamp });

  it.each([
    [NEWER, { online: true, timestamp: 1_000 }, { online: false, timestamp: 1_000 }],
    [OLDER, 'ONLINE', 'OFFLINE'],
  ])(
    'is not born before %s says online, dies when it says offline, and comes back with it',
    async (on, up, down) => {
      await sink.open(within(5_000));
      expect(await sink.send([record(1)], within(5_000))).toEqual(WAITING);
      await sleep(150);
      expect(host.heard).toEqual([]);
      await tell(on, up);
      await expectBirth(1);
      expect(await sink.send([record(1)], within(5_000))).toEqual({ outcome: 'taken' });
      await tell(on, down);
      await host.expect('its death', ({ topic: of }) => of === topic('NDEATH'));
      await sleep(150);
      expect(await sink.send([record(2)], within(5_000))).toEqual(WAITING);
      expect(heard('NBIRTH')).toHaveLength(1);
      await tell(on, up);
      await expectBirth(2);
      expect(await sink.send([record(2)], within(5_000))).toEqual({ outcome: 'taken' });
      const bdSeqs = heard('NBIRTH').map(({ payload }) => decodePayload(payload).metrics[0]!.value);
      expect(bdSeqs).toEqual([0, 1]);
      expect(decodePayload(heard('NDEATH')[0]!.payload).metrics[0]!.value).toBe(0);
    },
  );

  it('a state that was retained before it connected is enough', async () => {
    await say(true, 5);
    await sink.open(within(5_000));
    await expectBirth(1);
    expect(await sink.send([record(1)], within(5_000))).toEqual({ outcome: 'taken' });
  });

  it('other hosts, words that say nothing, and messages of before the last one change nothing', async () => {
    await sink.open(within(5_000));
    await tell('spBv1.0/STATE/other-host', { online: true, timestamp: 9_000 });
    for (const payload of ['ONLINE', '{"online":"true","timestamp":1}', '{"online":true}', 'null', '{'])
      await tell(NEWER, payload);
    await tell(OLDER, 'online, mostly');
    await sleep(150);
    expect(await sink.send([record(1)], within(5_000))).toEqual(WAITING);
    await say(true, 9_000);
    await expectBirth(1);
    await say(false, 8_999); // the will of a connection of before
    await tell(OLDER, 'OFFLINE'); // the form that this host does not use
    await sleep(150);
    expect(await sink.send([record(1)], within(5_000))).toEqual({ outcome: 'taken' });
    expect(heard('NDEATH')).toEqual([]);
    await tell('spBv1.0/STATE/other-host', '');
  });

  const tens = (...from: readonly number[]) =>
    from.map((minute) => ({
      ...{ stream: 'rollups', period: '1m' },
      ...{ from: DAY + minute * 60_000, to: DAY + (minute + 10) * 60_000 },
    }));

  it('what was sent shortly before the host went is asked for again, once; older is not', async () => {
    await say(true, 1);
    await sink.open(within(5_000));
    await expectBirth(1);
    clock.ms = -600_000;
    expect(await sink.send([record(1)], within(5_000))).toEqual({ outcome: 'taken' });
    clock.ms = 0;
    expect(await sink.send([record(32), record(23)], within(5_000))).toEqual({ outcome: 'taken' });
    expect(await sink.send([record(5_000), record(24)], within(5_000))).toEqual({ outcome: 'taken' });
    expect(asked).toEqual([]);
    await say(false, 2);
    await host.expect('its death', ({ topic: of }) => of === topic('NDEATH'));
    expect(asked).toEqual([{ ...tens(20)[0], to: DAY + 40 * 60_000 }, ...tens(5_000)]);
    expect(await sink.send([record(4)], within(5_000))).toMatchObject({ outcome: 'later' });
    await say(true, 3);
    await expectBirth(2);
    expect(await sink.send([record(4)], within(5_000))).toEqual({ outcome: 'taken' });
    expect(asked).toHaveLength(2);
  });

  it('a host that comes back without having said that it went gets births, and again what was sent shortly before', async () => {
    await say(true, 1);
    await sink.open(within(5_000));
    await expectBirth(1);
    expect(await sink.send([record(1)], within(5_000))).toEqual({ outcome: 'taken' });
    expect(asked).toEqual([]);
    await say(true, 1); // the broker had kept what it says now: it was not there before
    await expectBirth(2);
    expect(asked).toEqual(tens(0));
    expect(await sink.send([record(31)], within(5_000))).toEqual({ outcome: 'taken' });
    await say(true, 1); // the same life, told once more
    await sleep(150);
    expect(heard('NBIRTH')).toHaveLength(2);
    expect(asked).toHaveLength(1);
    await say(true, 2);
    await expectBirth(3);
    expect(asked).toEqual(tens(0, 30));
  });

  it('what a broker had read when it died is asked for again', async () => {
    await say(true, 1);
    await sink.open(within(5_000));
    await expectBirth(1);
    expect(await sink.send([record(1)], within(5_000))).toEqual({ outcome: 'taken' });
    await broker.kill();
    await host.close();
    await expect.poll(() => asked).toEqual(tens(0));
    await broker.start();
    host = await listenTo(broker.url, ['spBv1.0/tarn-hollow/#']);
    await say(true, 1);
    await expectBirth(1);
    expect(await sink.send([record(2)], within(5_000))).toEqual({ outcome: 'taken' });
    expect(asked).toHaveLength(1);
  });

  it('what was sent before it was closed is asked for again when it is opened: the host may have died between', async () => {
    await say(true, 1);
    await sink.open(within(5_000));
    await expectBirth(1);
    expect(await sink.send([record(1)], within(5_000))).toEqual({ outcome: 'taken' });
    await sink.close();
    expect(asked).toEqual([]);
    await sink.open(within(5_000));
    expect(asked).toEqual(tens(0));
    await sink.close();
    await sink.open(within(5_000));
    expect(asked).toHaveLength(1);
  });

  it('closed while it waits, it leaves nothing behind and can be opened again', async () => {
    await sink.open(within(5_000));
    await sink.close();
    expect(await sink.send([record(1)], within(5_000))).toMatchObject({ outcome: 'later' });
    await say(true, 1);
    await sleep(100);
    expect(heard('NBIRTH')).toEqual([]);
    await sink.open(within(5_000));
    await expectBirth(1);
  });
}

if (!hasMosquitto()) it(WITHOUT_MOSQUITTO, () => console.warn(WITHOUT_MOSQUITTO));
else describe('the primary host', runSuite);
