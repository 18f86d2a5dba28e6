/** Bad records, or a receiver that refuses everything: told apart over batches, however small they are. */
import { afterEach, describe, expect, test } from 'vitest';
import { Refusals } from '../../src/forward/refusals.js';
import { ForwardRig, settingsOf, START } from './forward-rig.js';

const SENSORS = ['pump-1/de', 'pump-1/nde', 'pump-2/de'];
let rig: ForwardRig;
afterEach(() => rig.close());

function quarantined(): number {
  return rig.forwarder.ledger('plant').lines.reduce((sum, line) => sum + line.quarantined, 0);
}

describe('a receiver', () => {
  test('that refuses everything in batches of a few is waited for too, and is called failing', async () => {
    rig = new ForwardRig(SENSORS);
    rig.start([settingsOf('plant')]);
    const receiver = rig.receiver('plant');
    for (let i = 0; i < 90; i++) {
      for (const sensor of SENSORS) {
        receiver.poison.add(`${sensor}|1m|${START + i * 60_000}`);
        receiver.poison.add(`${sensor}|10m|${START + i * 60_000}`);
        receiver.poison.add(`${sensor}|1h|${START + i * 60_000}`);
      }
      rig.closeMinute();
      await rig.clock.pass(60_000, 1_000);
    }
    expect(quarantined()).toBeLessThanOrEqual(20);
    const [status] = rig.forwarder.status();
    expect(status).toMatchObject({ state: 'failing' });
    expect(status!.lastError).toContain('refuses everything: poison');
    receiver.poison.clear();
    rig.forwarder.retry('plant');
    await rig.clock.pass(120_000, 1_000);
    expect(quarantined()).toBe(0);
    expect(rig.forwarder.ledger('plant').lines.every(({ pending }) => pending === 0)).toBe(true);
  });

  test('that takes what is new gets rid of a backlog that it refuses, a whole stretch of it', async () => {
    rig = new ForwardRig(SENSORS);
    const bad = 40;
    for (let i = 0; i < bad; i++) {
      rig.closeMinute();
      for (const sensor of SENSORS) rig.receiver('plant').poison.add(`${sensor}|1m|${START + i * 60_000}`);
    }
    await rig.clock.pass(3_600_000, 600_000);
    rig.start([settingsOf('plant')]);
    for (let i = 0; i < 30; i++) {
      rig.closeMinute();
      await rig.clock.pass(60_000, 500);
    }
    expect(quarantined()).toBe(bad * SENSORS.length);
    expect(rig.forwarder.status()[0]).toMatchObject({ state: 'live', backlog: 0 });
    const { lines, isBalanced } = rig.forwarder.ledger('plant');
    expect(isBalanced).toBe(true);
    expect(lines.every(({ pending }) => pending === 0)).toBe(true);
    // as many as it takes to find them, and not a flood
    expect(rig.receiver('plant').count).toBeLessThan(2_000);
  });
});

test('twice as many are believed each time that something was taken meanwhile, and few again behind them', () => {
  const refusals = new Refusals();
  const refuseUntilPutOff = (): number => {
    let count = 1;
    while (!refusals.noteRefused()) count += 1;
    refusals.notePutOff();
    return count;
  };
  expect(refuseUntilPutOff()).toBe(20);
  expect([refuseUntilPutOff(), refuseUntilPutOff()]).toEqual([1, 1]);
  refusals.noteTaken();
  expect(refuseUntilPutOff()).toBe(20);
  refusals.noteTaken();
  expect(refuseUntilPutOff()).toBe(40);
  refusals.noteTaken();
  refusals.noteMixed();
  expect(refuseUntilPutOff()).toBe(20);
});
