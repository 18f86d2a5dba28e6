/** A receiver that cannot take a full batch within the deadline gets smaller ones, and bigger ones when it is quick again. */
import { afterEach, describe, expect, test } from 'vitest';
import { BatchSize } from '../../src/forward/batch-size.js';
import { ForwardRig, settingsOf } from './forward-rig.js';

describe('the size of a batch', () => {
  test('is halved down to one, and doubled while it goes quickly', () => {
    const size = new BatchSize(500, 1_000);
    const halved = Array.from({ length: 10 }, () => {
      size.noteLater(size.records, 1_000);
      return size.records;
    });
    expect(halved).toEqual([250, 125, 62, 31, 15, 7, 3, 1, 1, 1]);
    for (let i = 0; i < 20; i++) size.noteAnswer(size.records, 10);
    expect(size.records).toBe(500);
  });

  test.each([
    ['a failure that came at once', (size: BatchSize) => size.noteLater(500, 20), 500],
    [
      'an end that the sink made itself, before the deadline',
      (size: BatchSize) => size.noteLater(500, 800),
      250,
    ],
    ['an answer that took its time', (size: BatchSize) => size.noteAnswer(500, 600), 500],
  ])('%s', (_, note, records) => {
    const size = new BatchSize(500, 1_000);
    note(size);
    expect(size.records).toBe(records);
  });

  test('does not grow by batches that were not full, or not quick', () => {
    const size = new BatchSize(500, 1_000);
    size.noteLater(500, 1_000);
    size.noteAnswer(100, 10);
    size.noteAnswer(250, 300);
    expect(size.records).toBe(250);
  });
});

describe('a receiver', () => {
  let rig: ForwardRig;
  afterEach(() => rig.close());

  function waiting(): number {
    const { backlog, waitingLive } = rig.forwarder.status()[0]!;
    return backlog + waitingLive;
  }

  test('that takes 40 records within the deadline and is offered 500 gets all of them', async () => {
    rig = new ForwardRig(['pump-1/de', 'pump-1/nde']);
    rig.start([settingsOf('plant', { deadlineMs: 5_000, retryMostMs: 2_000 })]);
    const receiver = rig.receiver('plant');
    receiver.isDead = true;
    for (let i = 0; i < 600; i++) rig.closeMinute();
    await rig.clock.pass(30_000, 500);
    receiver.isDead = false;
    receiver.recordMs = 5_000 / 40;
    const sizes: number[] = [];
    receiver.onBatch = (records) => sizes.push(records.length);
    for (let i = 0; i < 20 && waiting() > 0; i++) await rig.clock.pass(30_000, 250);
    expect(receiver.rows.size).toBe(2 * (600 + 60 + 10));
    expect(Math.max(...sizes)).toBeLessThanOrEqual(40);
    expect(rig.forwarder.ledger('plant').isBalanced).toBe(true);
    receiver.recordMs = 0;
    sizes.length = 0;
    receiver.isDead = true;
    for (let i = 0; i < 600; i++) rig.closeMinute();
    await rig.clock.pass(10_000, 500);
    receiver.isDead = false;
    await rig.clock.pass(60_000, 500);
    expect(receiver.rows.size).toBe(2 * 2 * (600 + 60 + 10));
    expect(Math.max(...sizes)).toBeGreaterThan(400);
  });
});
