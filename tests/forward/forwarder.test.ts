/** The forwarder over a real store and receivers in memory, in simulated time. */
import { afterEach, describe, expect, test } from 'vitest';
import { openReader } from '../../src/store/reader.js';
import { ForwardRig, settingsOf, START } from './forward-rig.js';

const SENSORS = ['pump-1/de', 'pump-1/nde', 'pump-2/de'];
let rig: ForwardRig;
afterEach(() => rig.close());

/** Unique rows of the receiver against the store's, by key and revision. */
function expectComplete(name: string, from = START): void {
  const reader = openReader(rig.folder.dir);
  const wanted = (['1m', '10m', '1h'] as const).flatMap((period) =>
    reader
      .rollups({ sensor: null, period, from, to: null, limit: 1_000_000, cursor: null })
      .items.map((row) => `${row.sensor}|${period}|${row.start} ${row.revision}`),
  );
  reader.close();
  const held = rig
    .receiver(name)
    .held()
    .filter(({ stream }) => stream === 'rollups')
    .map(({ key, revision }) => `${key} ${revision}`);
  expect(held.sort()).toEqual(wanted.sort());
}

function sumOf(
  name: string,
  column: 'produced' | 'delivered' | 'superseded' | 'pending' | 'quarantined' | 'expired',
) {
  return rig.forwarder.ledger(name).lines.reduce((sum, line) => sum + line[column], 0);
}

describe('one sink', () => {
  test('what is committed arrives, once, and the outbox is emptied behind it', async () => {
    rig = new ForwardRig(SENSORS);
    rig.start([settingsOf('plant')]);
    for (let i = 0; i < 120; i++) {
      rig.closeMinute();
      await rig.clock.jump(60_000);
    }
    await rig.clock.pass(5_000, 500);
    expectComplete('plant');
    expect(rig.receiver('plant').count).toBe(rig.receiver('plant').rows.size);
    expect(rig.forwarder.ledger('plant').isBalanced).toBe(true);
    expect(sumOf('plant', 'pending')).toBe(0);
    expect(sumOf('plant', 'delivered')).toBe(3 * (120 + 12 + 2));
    rig.commit({});
    const reader = openReader(rig.folder.dir);
    expect(reader.value('SELECT count(*) FROM outbox')).toBe(0);
    reader.close();
  });

  test('of a row that changes again before it is sent only the newest is sent', async () => {
    rig = new ForwardRig(SENSORS);
    rig.start([settingsOf('plant')]);
    rig.receiver('plant').isDead = true;
    rig.closeMinute();
    for (let i = 0; i < 4; i++) rig.touchMinute('pump-1/de', 0);
    await rig.clock.jump(1_000);
    rig.receiver('plant').isDead = false;
    await rig.clock.pass(20_000, 500);
    expectComplete('plant');
    expect(rig.receiver('plant').count).toBe(3);
    expect(sumOf('plant', 'superseded')).toBe(4);
    expect(rig.forwarder.ledger('plant').isBalanced).toBe(true);
  });

  test('a poison record among 500 is found by halving and kept; it is sent when its time has come', async () => {
    rig = new ForwardRig(SENSORS);
    rig.start([settingsOf('plant')]);
    const receiver = rig.receiver('plant');
    receiver.isDead = true;
    for (let i = 0; i < 170; i++) rig.closeMinute();
    const key = `pump-1/nde|1m|${START + 77 * 60_000}`;
    receiver.poison.add(key);
    receiver.isDead = false;
    await rig.clock.pass(20_000, 500);
    expect(sumOf('plant', 'quarantined')).toBe(1);
    expect(sumOf('plant', 'pending')).toBe(0);
    expect(rig.forwarder.ledger('plant').isBalanced).toBe(true);
    expect(receiver.held().some((one) => one.key === key)).toBe(false);
    expect(rig.forwarder.retry('plant')).toBe(1);
    await rig.clock.pass(2_000, 500);
    expect(sumOf('plant', 'quarantined')).toBe(1);
    receiver.poison.clear();
    expect(rig.forwarder.retry('plant')).toBe(1);
    await rig.clock.pass(5_000, 500);
    expect(sumOf('plant', 'quarantined')).toBe(0);
    expect(rig.forwarder.ledger('plant').isBalanced).toBe(true);
    expectComplete('plant');
  });

  test('who asks for another try while one is under way gets one', async () => {
    rig = new ForwardRig(SENSORS);
    rig.start([settingsOf('plant')]);
    const receiver = rig.receiver('plant');
    receiver.poison.add(`pump-1/nde|1m|${START}`);
    rig.closeMinute();
    await rig.clock.pass(20_000, 500);
    expect(sumOf('plant', 'quarantined')).toBe(1);
    let release = (): void => undefined;
    const tries: number[] = [];
    receiver.hold = (records) => {
      tries.push(records.length);
      // what was wrong at the receiver is mended when the first try has been refused
      if (tries.length === 2) receiver.poison.clear();
      return tries.length > 1 ? Promise.resolve() : new Promise((resolve) => (release = resolve));
    };
    expect(rig.forwarder.retry('plant')).toBe(1);
    await rig.clock.pass(1_000, 500);
    expect(tries).toEqual([1]);
    expect(rig.forwarder.retry('plant')).toBe(1);
    release();
    await rig.clock.pass(5_000, 500);
    expect(tries).toEqual([1, 1]);
    expect(sumOf('plant', 'quarantined')).toBe(0);
    expectComplete('plant');
  });

  test('a receiver that refuses everything is waited for, not emptied into the quarantine', async () => {
    rig = new ForwardRig(SENSORS);
    rig.start([settingsOf('plant')]);
    const receiver = rig.receiver('plant');
    for (let i = 0; i < 170; i++) {
      rig.closeMinute();
      for (const sensor of SENSORS) receiver.poison.add(`${sensor}|1m|${START + i * 60_000}`);
    }
    await rig.clock.pass(20_000, 500);
    expect(sumOf('plant', 'quarantined')).toBe(0);
    expect(rig.forwarder.status()[0]).toMatchObject({ state: 'failing' });
    expect(rig.forwarder.status()[0]!.lastError).toContain('refuses everything');
    receiver.poison.clear();
    await rig.clock.pass(20_000, 500);
    expectComplete('plant');
  });
});

test('a start that fails at one sink starts none, and the next one begins with all that is in the outbox', async () => {
  rig = new ForwardRig(SENSORS);
  for (let i = 0; i < 5; i++) rig.closeMinute();
  const made: string[] = [];
  rig.onMake = (name) => {
    made.push(name);
    if (name === 'second') throw new Error('it cannot be made');
  };
  expect(() => rig.start([settingsOf('first'), settingsOf('second')])).toThrow('it cannot be made');
  await rig.clock.pass(5_000, 500);
  expect(made).toEqual(['first', 'second']);
  expect(rig.receiver('first').count).toBe(0);
  rig.onMake = () => undefined;
  rig.start([settingsOf('first'), settingsOf('second')]);
  await rig.clock.pass(5_000, 500);
  for (const name of ['first', 'second']) {
    expectComplete(name);
    expect(rig.receiver(name).count).toBe(15);
    expect(sumOf(name, 'delivered')).toBe(15);
  }
});

describe('outages', () => {
  test('72 h without the receiver: live records within 10 s while the backlog drains at its pace', async () => {
    rig = new ForwardRig(SENSORS);
    rig.start([settingsOf('plant', { backlogPerS: 200 })]);
    const receiver = rig.receiver('plant');
    receiver.isDead = true;
    for (let i = 0; i < 72 * 60; i++) {
      rig.closeMinute();
      await rig.clock.jump(60_000);
    }
    receiver.isDead = false;
    const lags: number[] = [];
    const live = new Map<string, number>();
    receiver.onBatch = (records) => {
      for (const { key } of records) {
        const madeAt = live.get(key);
        if (madeAt !== undefined) lags.push(rig.clock.now() - madeAt);
      }
    };
    await rig.clock.pass(6_000, 500);
    let drained = 0;
    for (; rig.forwarder.status()[0]!.backlog > 0 && drained < 30; drained++) {
      for (const sensor of SENSORS) live.set(`${sensor}|1m|${START + rig.minute * 60_000}`, rig.clock.now());
      rig.closeMinute();
      await rig.clock.pass(60_000, 500);
      const [status] = rig.forwarder.status();
      if (status!.backlog > 0) expect(status!.state).toBe('draining');
    }
    // 14,400 records at 200/s take 72 s at least
    expect(drained).toBeGreaterThan(0);
    expect(lags.length).toBe(live.size);
    expect(Math.max(...lags)).toBeLessThan(10_000);
    expectComplete('plant');
    expect(rig.forwarder.ledger('plant').isBalanced).toBe(true);
    expect(sumOf('plant', 'expired')).toBe(0);
  }, 120_000);

  test('a sink that hangs touches no other', async () => {
    rig = new ForwardRig(SENSORS);
    rig.start([settingsOf('hung'), settingsOf('well')]);
    rig.receiver('hung').isStalled = true;
    for (let i = 0; i < 30; i++) {
      rig.closeMinute();
      await rig.clock.pass(5_000, 500);
    }
    expectComplete('well');
    expect(rig.forwarder.status()[0]).toMatchObject({ name: 'hung', state: 'failing' });
    expect(rig.forwarder.ledger('hung').isBalanced).toBe(true);
    rig.receiver('hung').isStalled = false;
    await rig.clock.pass(30_000, 500);
    expectComplete('hung');
  });

  test('a restart of the forwarder at any moment sends nothing that is lost and loses nothing', async () => {
    rig = new ForwardRig(SENSORS);
    rig.start([settingsOf('plant')]);
    for (let round = 0; round < 5; round++) {
      for (let i = 0; i < 40; i++) rig.closeMinute();
      await rig.clock.pass(600 + round * 300, 100);
      await rig.stopForwarder();
      rig.start([settingsOf('plant')]);
    }
    await rig.clock.pass(20_000, 500);
    expectComplete('plant');
    expect(rig.forwarder.ledger('plant').isBalanced).toBe(true);
  });

  test('beyond its cap the oldest minutes go first, and the loss ledger says which', async () => {
    rig = new ForwardRig(SENSORS);
    rig.start([settingsOf('plant', { backlogBytesMax: 65_536 })]);
    rig.receiver('plant').isDead = true;
    for (let i = 0; i < 24 * 60; i++) {
      rig.closeMinute();
      await rig.clock.jump(20_000);
    }
    const { lines, losses, isBalanced } = rig.forwarder.ledger('plant');
    expect(isBalanced).toBe(true);
    const expired = lines.filter((line) => line.expired > 0);
    expect(new Set(expired.map(({ period }) => period))).toEqual(new Set(['1m']));
    expect(losses.reduce((sum, { count }) => sum + count, 0)).toBe(sumOf('plant', 'expired'));
    expect(Math.min(...losses.map(({ firstStart }) => firstStart))).toBe(START);
    expect(sumOf('plant', 'pending')).toBeLessThanOrEqual(65_536 / 40 + 100);
    rig.receiver('plant').isDead = false;
    await rig.clock.pass(60_000, 500);
    expect(rig.forwarder.ledger('plant').isBalanced).toBe(true);
    expect(rig.receiver('plant').rows.size).toBe(sumOf('plant', 'delivered'));
  });

  test('what is older than its age limit is given up', async () => {
    rig = new ForwardRig(SENSORS);
    rig.start([settingsOf('plant', { ageDaysMax: 1 })]);
    rig.receiver('plant').isDead = true;
    for (let i = 0; i < 36 * 60; i++) {
      rig.closeMinute();
      await rig.clock.jump(60_000);
    }
    const { losses, isBalanced } = rig.forwarder.ledger('plant');
    expect(isBalanced).toBe(true);
    expect(losses[0]!.reason).toContain('1 days');
    expect(sumOf('plant', 'expired')).toBeGreaterThan(11 * 60 * 3);
    expect(sumOf('plant', 'expired')).toBeLessThan(13 * 60 * 3 * 1.2);
  });
});
