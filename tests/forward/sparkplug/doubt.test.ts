/** What is remembered of what was sent to a host that may have died: across kills, in little room, and withdrawn transients too. */
import { expect, it } from 'vitest';
import { joinSpans } from '../../../src/forward/spans.js';
import { divideMemory } from '../../../src/forward/sparkplug/divided-memory.js';
import { Doubt } from '../../../src/forward/sparkplug/doubt.js';
import type { SinkMemory, Stretch } from '../../../src/forward/sink.js';
import { DAY, rollupRecord, rollupRow, transientRecord } from '../sample-records.js';
import { makeMemory } from './rig.js';

const MINUTE_MS = 60_000;
const record = (minute: number) => rollupRecord(rollupRow('booster-4/de', DAY + minute * MINUTE_MS, 0));

/** `memory`: as an earlier life left it. */
function makeDoubt(memory: SinkMemory = makeMemory()) {
  const asked: Stretch[] = [];
  const clock = { ms: 0 };
  const parts = { memory, forMs: 120_000, steady: () => clock.ms };
  return {
    ...{ asked, clock },
    doubt: new Doubt({ ...parts, askAgain: (stretches) => asked.push(...stretches) }),
  };
}

it('what an earlier life sent is asked for, whatever clock the new one has; what was too old when it wrote is not', () => {
  const memory = makeMemory();
  const first = makeDoubt(memory);
  first.doubt.note([record(0)]);
  first.clock.ms = 200_000;
  first.doubt.note([record(60)]);
  const second = makeDoubt(memory);
  second.clock.ms = 1e9;
  second.doubt.arise();
  expect(second.asked.map(({ from }) => (from - DAY) / MINUTE_MS)).toEqual([60]);
  const third = makeDoubt(memory);
  third.doubt.arise();
  expect(third.asked).toEqual([]);
});

it('a batch like the one before it is sent without writing, and a long drain takes little room', () => {
  let writes = 0;
  const kept = makeMemory();
  const memory = { read: () => kept.read(), write: (json: string) => (writes++, kept.write(json)) };
  const { doubt, clock, asked } = makeDoubt(memory);
  for (let minute = 0; minute < 10; minute++) doubt.note([record(minute)]);
  expect(writes).toBe(1);
  for (let i = 0; i < 50_000; i++) {
    clock.ms += 2;
    // scattered over a year
    doubt.note([record((i * 7_919) % 525_600)]);
  }
  expect(kept.json!.length).toBeLessThan(20_000);
  doubt.arise();
  expect(asked.length).toBeLessThanOrEqual(96);
  for (let i = 0; i < 50_000; i++) {
    const at = DAY + ((i * 7_919) % 525_600) * MINUTE_MS;
    if (!asked.some(({ from, to }) => from <= at && at < to)) throw new Error(`${at} is not asked for`);
  }
});

it('withdrawn transients, which no store holds, are kept themselves, in limits, and once', () => {
  const memory = makeMemory();
  const first = makeDoubt(memory);
  const withdrawn = Array.from({ length: 500 }, (_, i) => transientRecord(DAY + i * 1_000, 2, true));
  expect(first.doubt.note(withdrawn)).toBe(true);
  const more = withdrawn.map((one) => ({ ...one, revision: 3 }));
  expect(first.doubt.note(more)).toBe(false);
  const second = makeDoubt(memory);
  for (let i = 0; i < 3; i++) {
    second.doubt.arise();
    expect(second.doubt.peek(1_000)).toEqual(withdrawn);
    expect(second.doubt.note(second.doubt.peek(500))).toBe(true);
  }
  second.doubt.settle(500);
  expect(second.doubt.peek(1_000)).toEqual([]);
  second.clock.ms = 300_000;
  expect(second.doubt.note(more)).toBe(true);
});

it('what could not be asked for is still owed, however old it grows', () => {
  let isFull = true;
  const asked: Stretch[] = [];
  const clock = { ms: 0 };
  const doubt = new Doubt({
    ...{ memory: makeMemory(), forMs: 120_000, steady: () => clock.ms },
    askAgain: (stretches) => {
      if (isFull) throw new Error('the disk is full');
      asked.push(...stretches);
    },
  });
  doubt.note([record(0)]);
  expect(() => doubt.arise()).toThrow('the disk is full');
  clock.ms = 1e9;
  expect(doubt.isOwed).toBe(true);
  isFull = false;
  doubt.arise();
  expect(asked).toHaveLength(1);
  expect(doubt.isOwed).toBe(false);
});

it('a memory that was written before there was doubt is read, and both keep their own', () => {
  const memory = makeMemory();
  memory.write('{"bdSeq":7,"groups":[]}');
  const [main, beside] = divideMemory(memory);
  expect([main.read(), beside.read()]).toEqual(['{"bdSeq":7,"groups":[]}', null]);
  beside.write('{"slices":[]}');
  main.write('{"bdSeq":8}');
  const again = divideMemory(memory);
  expect(again.map((one) => one.read())).toEqual(['{"bdSeq":8}', '{"slices":[]}']);
  const empty = makeMemory();
  divideMemory(empty)[1].write('{"slices":[]}');
  expect(divideMemory(empty).map((one) => one.read())).toEqual([null, '{"slices":[]}']);
});

it('stretches that touch become one, and the closest are drawn together where there are too many', () => {
  const spans = [
    [50, 60],
    [0, 10],
    [10, 20],
    [5, 8],
    [25, 30],
  ] as const;
  expect(joinSpans(spans, 9)).toEqual([
    [0, 20],
    [25, 30],
    [50, 60],
  ]);
  expect(joinSpans(spans, 2)).toEqual([
    [0, 30],
    [50, 60],
  ]);
  expect(joinSpans([], 2)).toEqual([]);
});
