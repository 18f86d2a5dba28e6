/**
 * Faults of the way and of records, at a real receiver of every network sink: connections that fall silent, a record that is
 * refused, more waiting than may wait. The receivers' own tables and the ledgers are the judge.
 */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { sleep } from '../support/child.js';
import { findAllDifferences, readOwnRows, readQuarantine, readStoredRows } from './accounts.js';
import { startMqttReceiver } from './broker-receivers.js';
import { ForwardingRig, MINUTE_MS, SITE } from './forwarding-rig.js';
import type { NetworkReceiver } from './network-receiver.js';
import { KINDS_HERE, MISSING_RECEIVERS, startReceivers } from './receiver-hall.js';
import { openSilentWay, type SilentWay } from './silent-way.js';

if (MISSING_RECEIVERS !== null) console.warn(MISSING_RECEIVERS);

const DEADLINE_MS = 1_500;
const HOUR_MS = 60 * MINUTE_MS;
const PATIENCE_MS = 40_000;
const folder = mkdtempSync(join(tmpdir(), 'tallypost-faults-'));
let receivers: NetworkReceiver[] = [];
let rig: ForwardingRig;
beforeAll(async () => {
  receivers = await startReceivers({ folder, site: SITE, niceness: 0 });
});
afterEach(() => rig.close());
afterAll(async () => {
  await Promise.all(receivers.map((receiver) => receiver.stop()));
  rmSync(folder, { recursive: true, force: true });
});

/** `port`: by kind; absent: straight to the receiver. */
function start(some: Readonly<Record<string, unknown>> = {}, ports = new Map<string, number>()): void {
  rig.start(
    receivers.map(({ kind, port, keys }) => ({
      ...{ name: kind, deadlineMs: DEADLINE_MS, retryMostMs: 1_000, backlogPerS: 3_000, ...some },
      ...keys(ports.get(kind) ?? port),
    })),
  );
}

describe('a connection that falls silent', () => {
  const ways = new Map<string, SilentWay>();
  afterAll(() => Promise.all([...ways.values()].map((way) => way.close())));

  it.each(KINDS_HERE)(
    'to %s: its socket is gone with the deadline, the others are served, and all of it arrives',
    async (kind) => {
      for (const receiver of receivers)
        if (!ways.has(receiver.kind)) ways.set(receiver.kind, await openSilentWay(receiver.port));
      const way = ways.get(kind)!;
      rig = new ForwardingRig([`silent-${kind}/de`, `silent-${kind}/nde`], Date.now() - 5 * HOUR_MS);
      start({}, new Map([...ways].map(([name, { port }]) => [name, port])));
      const others = KINDS_HERE.filter((one) => one !== kind);
      const committed = new Map<string, number>();
      const live = async (count: number): Promise<void> => {
        for (let i = 0; i < count; i++) {
          committed.set(`silent-${kind}/de|1m|${rig.startAt + rig.minute * MINUTE_MS}`, Date.now());
          rig.closeMinute(Date.now());
          await sleep(150);
        }
      };
      await live(10);
      await rig.untilForwarded(KINDS_HERE, PATIENCE_MS);
      const sockets = way.stall();
      const stalledAt = Date.now();
      expect(sockets.length).toBeGreaterThan(0);
      committed.clear();
      while (sockets.some((socket) => !socket.closed) && Date.now() - stalledAt < 15_000) await live(2);
      // the batch goes out within half a second, the deadline passes, and closing is given two seconds
      expect(Date.now() - stalledAt).toBeLessThan(DEADLINE_MS + 4_500);
      await expect.poll(() => rig.statusOf(kind)?.state, { timeout: 10_000 }).toBe('failing');
      await live(10);
      await rig.untilForwarded(others, PATIENCE_MS);
      expect(rig.statusOf(kind)!.waitingLive + rig.statusOf(kind)!.backlog).toBeGreaterThan(0);
      await Promise.all(
        receivers
          .filter((one) => one.kind !== kind)
          .map(async (receiver) => {
            const at = new Map((await receiver.held()).map((row) => [row.key, row.at]));
            const lags = [...committed].map(([key, madeAt]) => (at.get(key) ?? Infinity) - madeAt);
            expect(Math.max(...lags), receiver.kind).toBeLessThan(5_000);
          }),
      );
      way.heal();
      await live(4);
      await rig.untilForwarded(KINDS_HERE, PATIENCE_MS);
      expect(await findAllDifferences(rig, receivers)).toEqual([]);
    },
    120_000,
  );
});

describe('a record in 500 that is refused', () => {
  it('is kept with the reason, the others arrive, and it is sent when its time has come', async () => {
    const refusing = receivers.filter((receiver) => receiver.poison !== undefined);
    expect(refusing.map(({ kind }) => kind)).toEqual(KINDS_HERE.filter((kind) => /http|postgres/.test(kind)));
    rig = new ForwardingRig(['poison/de', 'poison/nde', 'poison/other'], Date.now() - 4 * HOUR_MS);
    rig.passHours(3);
    const poison = `poison/nde|1m|${rig.startAt + 77 * MINUTE_MS}`;
    for (const receiver of refusing) await receiver.poison!(poison);
    start();
    await rig.untilForwarded(KINDS_HERE, PATIENCE_MS);
    const stored = readStoredRows(rig);
    expect(stored.size).toBeGreaterThan(500);
    const refused = [...stored].filter((row) => row.startsWith(`rollups ${poison} `));
    expect(refused).toHaveLength(1);
    for (const receiver of receivers) {
      const held = await readOwnRows(rig, receiver);
      const missing = [...stored].filter((row) => !held.has(row));
      expect(missing, receiver.kind).toEqual(refusing.includes(receiver) ? refused : []);
    }
    for (const { kind, poison: doPoison } of refusing) {
      const { isBalanced, lines } = await rig.ledger(kind);
      expect(isBalanced, kind).toBe(true);
      expect(lines.reduce((sum, line) => sum + line.quarantined, 0)).toBe(1);
      const [row, ...more] = readQuarantine(rig, kind);
      expect(more).toEqual([]);
      expect(row!.key).toBe(poison);
      expect(row!.reason).toMatch(kind === 'http' ? /422: poison/ : /site_rule/);
      // as long as the cause is there it comes back
      expect(await rig.host.retry(kind)).toBe(1);
      await sleep(1_500);
      expect(readQuarantine(rig, kind)).toHaveLength(1);
      await doPoison!(null);
      expect(await rig.host.retry(kind)).toBe(1);
      await expect.poll(() => readQuarantine(rig, kind), { timeout: 20_000 }).toEqual([]);
    }
    await rig.untilForwarded(KINDS_HERE, PATIENCE_MS);
    expect(await findAllDifferences(rig, receivers)).toEqual([]);
  }, 120_000);
});

describe.runIf(KINDS_HERE.includes('mqtt'))('a record in 500 that is larger than a broker allows', () => {
  it('is found, though the broker cuts the connection without a word', async () => {
    const wishes = { folder: join(folder, 'strict'), site: SITE, niceness: 0 };
    const broker = await startMqttReceiver(wishes, ['max_packet_size 20000']);
    try {
      rig = new ForwardingRig(['large/de', 'large/nde', 'large/other'], Date.now() - 4 * HOUR_MS);
      rig.passHours(3);
      const from = rig.startAt + 77 * MINUTE_MS;
      const counts = Array.from({ length: 500 }, (_, i) => ({
        sensor: `coupled-${i}/nde`,
        pulses: i,
        ms: 9_000,
      }));
      rig.commit(
        { transients: [{ motor: 'large', from, to: from + 20_000, edges: 2, kind: 'start', counts }] },
        Date.now() - HOUR_MS,
      );
      const wish = { name: 'mqtt', deadlineMs: 5_000, retryMostMs: 1_000, backlogPerS: 3_000 };
      rig.start([{ ...wish, ...broker.keys(broker.port) }]);
      await rig.untilForwarded(['mqtt'], PATIENCE_MS);
      const large = `large|${from}`;
      const held = await readOwnRows(rig, broker);
      const missing = [...readStoredRows(rig)].filter((row) => !held.has(row));
      expect(missing).toEqual([`transients ${large}`]);
      const kept = readQuarantine(rig, 'mqtt');
      expect(kept.map(({ key }) => key)).toEqual([large]);
      expect(kept[0]!.reason).toContain('larger than it allows');
      expect((await rig.ledger('mqtt')).isBalanced).toBe(true);
      const file = join(folder, 'strict', 'mqtt', 'mosquitto.conf');
      await broker.mortals[0]!.kill();
      writeFileSync(file, readFileSync(file, 'utf8').replace('max_packet_size 20000', ''));
      await broker.mortals[0]!.start();
      expect(await rig.host.retry('mqtt')).toBe(1);
      await expect.poll(() => readQuarantine(rig, 'mqtt'), { timeout: 20_000 }).toEqual([]);
      expect(await findAllDifferences(rig, [broker])).toEqual([]);
    } finally {
      await broker.stop();
    }
  }, 120_000);
});

describe('more waits than may wait', () => {
  it('goes oldest minutes first into the loss ledger; what is left and what is lost are the store', async () => {
    rig = new ForwardingRig(['cap/de', 'cap/nde', 'cap/other'], Date.now() - 16 * HOUR_MS);
    rig.passHours(1);
    for (const { mortals } of receivers) await mortals[0]!.kill();
    // 3,000 records, and room for 1,638
    start({ backlogBytesMax: 65_536 });
    rig.passHours(14);
    await expect
      .poll(() => KINDS_HERE.map((kind) => rig.statusOf(kind)?.lost ?? 0), { timeout: 30_000 })
      .toEqual(KINDS_HERE.map(() => expect.toSatisfy((lost: number) => lost > 1_000) as number));
    for (const { mortals } of receivers) await mortals[0]!.start();
    await rig.untilForwarded(KINDS_HERE, PATIENCE_MS);
    const stored = readStoredRows(rig);
    for (const receiver of receivers) {
      const { isBalanced, lines, losses } = await rig.ledger(receiver.kind);
      expect(isBalanced, receiver.kind).toBe(true);
      const held = await readOwnRows(rig, receiver);
      const lost = [...stored].filter((row) => !held.has(row));
      expect(
        [...held].filter((row) => !stored.has(row)),
        receiver.kind,
      ).toEqual([]);
      expect(lost.every((row) => row.includes('|1m|'))).toBe(true);
      for (const sensor of rig.sensors) {
        const ranges = losses.filter(({ subject, period }) => subject === sensor && period === '1m');
        const line = lines.find(
          ({ subject, period, stream }) => subject === sensor && period === '1m' && stream === 'rollups',
        );
        // a minute that had changed has several entries, and is missing only when the newest went
        const own = lost
          .map((row) => row.slice('rollups '.length).split(/[| ]/))
          .filter(([name]) => name === sensor);
        const starts = own.map(([, , at]) => Number(at));
        expect(ranges.reduce((sum, { count }) => sum + count, 0)).toBe(line!.expired);
        expect(starts.length).toBeGreaterThan(200);
        expect(starts.length).toBeLessThanOrEqual(line!.expired);
        expect(Math.min(...ranges.map(({ firstStart }) => firstStart))).toBeLessThanOrEqual(
          Math.min(...starts),
        );
        expect(Math.max(...ranges.map(({ lastStart }) => lastStart))).toBeGreaterThanOrEqual(
          Math.max(...starts),
        );
        for (const { reason } of ranges) expect(reason).toContain('65536 bytes waited');
      }
    }
  }, 120_000);
});
