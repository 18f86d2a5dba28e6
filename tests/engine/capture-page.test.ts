/** Pages carry a capture from thread to thread: what comes out must decide the same as the lines that went in. */
import { expect, it } from 'vitest';
import type { CaptureLine } from '../../src/engine/capture-line.js';
import { PagePacker, PageUnpacker, type CapturePage } from '../../src/engine/capture-page.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

const plan = makePlan(
  [motorPlan('pump')],
  [sensorPlan('pump', 'de'), sensorPlan('pump', 'nde', { counterBits: 16 })],
);

function message(arrived: number, place: string, json: unknown, retain = false): CaptureLine {
  return {
    kind: 'message',
    arrived,
    client: `c${arrived}`,
    topic: `${plan.site}/in/${place}`,
    payload: { json },
    retain,
  };
}

/** As a message between threads is copied. */
function travel(page: CapturePage): CapturePage {
  return structuredClone(page);
}

const FULL = {
  device: 'SN',
  boot: 3,
  seq: 0,
  count: 0,
  at: 5_000,
  up_ms: 7,
  temperature_c: 41.5,
  check: true,
};

it('readings come out as facts, with what they did not carry as null', () => {
  const lines = [message(1, 'pump/de/reading', FULL), message(2, 'pump/nde/reading', { count: 65_535 })];
  const items = new PageUnpacker().unpack(travel(new PagePacker(plan).pack(lines, 0)));
  expect(items).toEqual([
    {
      kind: 'reading',
      arrived: 1,
      client: 'c1',
      fact: {
        kind: 'reading',
        sensor: 'pump/de',
        device: 'SN',
        count: 0,
        at: 5_000,
        seq: 0,
        boot: 3,
        upMs: 7,
        temperatureC: 41.5,
        check: true,
        receivedAt: 1,
      },
    },
    {
      kind: 'reading',
      arrived: 2,
      client: 'c2',
      fact: {
        kind: 'reading',
        sensor: 'pump/nde',
        device: '',
        count: 65_535,
        at: null,
        seq: null,
        boot: null,
        upMs: null,
        temperatureC: null,
        check: false,
        receivedAt: 2,
      },
    },
  ]);
});

it('whatever else a capture holds comes out whole, in its place', () => {
  const lines: CaptureLine[] = [
    { kind: 'connect', arrived: 1, client: 'a' },
    message(2, 'pump/drive/state', { state: 'running' }, true),
    message(3, 'pump/de/reading', { ...FULL, count: -1 }),
    message(4, 'pump/nde/reading', { count: 65_536 }),
    message(5, 'fan/de/reading', { count: 1 }),
    message(6, 'pump/de/reading', { count: 1 }, true),
    {
      kind: 'message',
      arrived: 7,
      client: 'a',
      topic: 'x',
      payload: { bytes: Buffer.from([255]) },
      retain: false,
    },
    { kind: 'tick', arrived: 8 },
    { kind: 'disconnect', arrived: 9, client: 'a', isClean: true },
  ];
  const mixed = [message(0, 'pump/de/reading', FULL), ...lines];
  const items = new PageUnpacker().unpack(travel(new PagePacker(plan).pack(mixed, 0)));
  expect(items[0]).toMatchObject({ kind: 'reading', arrived: 0 });
  expect(items.slice(1)).toEqual(lines);
  const bytes = items.flatMap((item) =>
    item.kind === 'message' && 'bytes' in item.payload ? [item.payload.bytes] : [],
  );
  expect(bytes.map((each) => each.toString('hex'))).toEqual(['ff']);
});

it('texts are sent once, and the table begins anew before it grows without end', () => {
  const packer = new PagePacker(plan, 100);
  const unpacker = new PageUnpacker();
  let sent = 0;
  let resets = 0;
  for (let page = 0; page < 3; page++) {
    const lines = Array.from({ length: 60 }, (_, i) => message(page * 60 + i, 'pump/de/reading', FULL));
    const packed = packer.pack(lines, 0);
    sent += packed.texts.length;
    resets += packed.resetsTexts ? 1 : 0;
    const items = unpacker.unpack(travel(packed));
    expect(items.map((item) => (item.kind === 'reading' ? item.client : ''))).toEqual(
      lines.map(({ arrived }) => `c${arrived}`),
    );
  }
  expect(resets).toBe(1);
  // a client a line, and sensor and device once for each table
  expect(sent).toBe(180 + 2 * 2);
});
