/** The map and its registers: places that never move, words in four orders, values that mean unknown. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { addressOfSlot, countSlots, strideOf } from '../../shared/register-slots.js';
import { answerRequest } from '../../src/plc/modbus-answer.js';
import { takeFrames, writeFrame } from '../../src/plc/modbus-frames.js';
import { drawRegisters } from '../../src/plc/register-image.js';
import { layOutMap, listRegisters } from '../../src/plc/register-map.js';
import { assignSlots } from '../../src/plc/slots.js';
import { toWord, UNKNOWN_U16, UNKNOWN_U32, WORD_ORDERS, writeU32 } from '../../src/plc/word-order.js';
import { alarmNews, driveNews, fedPicture, NOW, rateNews, SLOTS, smallPlant } from './small-plant.js';

const POSITIONS = ['de', 'nde'];
const map = layOutMap(smallPlant(), SLOTS, POSITIONS);
const times = { upMs: 90_000, beats: 65_540 };
const at = (subject: string, name: string): number =>
  listRegisters(map).find((row) => row.subject === subject && row.name === name)!.address;

function draw(
  picture: Parameters<typeof drawRegisters>[1],
  now = NOW,
): { u16(n: number): number; u32(n: number): number } {
  const image = drawRegisters(map, picture, 'ABCD', times, now);
  return { u16: (n) => image.readUInt16BE(2 * n), u32: (n) => image.readUInt32BE(2 * n) };
}

describe('slots', () => {
  it('stand at round addresses, and the last one still fits', () => {
    expect([1, 2, 3, 4, 10].map(strideOf)).toEqual([64, 64, 128, 128, 256]);
    expect(addressOfSlot(1, 2)).toBe(64);
    expect(addressOfSlot(4, 2)).toBe(256);
    for (const positions of [1, 2, 3, 10])
      expect(addressOfSlot(countSlots(positions), positions) + strideOf(positions)).toBeLessThanOrEqual(
        65_536,
      );
  });

  it('stay with their motors whatever comes and goes, in any order', () => {
    const name = fc.stringMatching(/^[a-d][0-9]$/);
    fc.assert(
      fc.property(fc.array(fc.uniqueArray(name, { maxLength: 20 }), { maxLength: 8 }), (plants) => {
        let kept = new Map<string, number>();
        for (const motors of plants) {
          const { slots, missing } = assignSlots(motors, null, kept, 2);
          expect(missing).toEqual([]);
          expect(new Set(slots.values()).size).toBe(motors.length);
          for (const [motor, slot] of slots) {
            if (kept.has(motor)) expect(slot).toBe(kept.get(motor));
            else expect([...kept.values()]).not.toContain(slot);
          }
          kept = new Map([...kept, ...slots]);
        }
      }),
    );
  });

  it('of the configuration are all there are: a motor without one is not in the map', () => {
    const given = new Map([['pump-1', 7]]);
    const { slots, missing } = assignSlots(['pump-0', 'pump-1'], given, new Map([['pump-1', 1]]), 2);
    expect([...slots]).toEqual([['pump-1', 7]]);
    expect(missing).toEqual(['pump-0']);
  });
});

describe('the map', () => {
  it('has no two values in one register, and none beyond its end', () => {
    const taken = listRegisters(map).flatMap((row) =>
      Array.from({ length: row.registers }, (_, i) => row.address + i),
    );
    expect(new Set(taken).size).toBe(taken.length);
    expect(Math.max(...taken)).toBeLessThan(map.length);
    expect(listRegisters(map).every((row) => row.number === row.address + 1)).toBe(true);
  });

  it('keeps these addresses: control systems are programmed by them', () => {
    const places = [
      'rate',
      'rate-lower',
      'rate-upper',
      'rate-quality',
      'rate-age',
      'health',
      'alarm-state',
      'rejecting',
    ];
    expect(places.map((name) => at('pump-1/de', name))).toEqual([80, 82, 84, 86, 87, 88, 89, 103]);
    expect(places.map((name) => at('pump-1/nde', name))).toEqual([104, 106, 108, 110, 111, 112, 113, 127]);
    const ofMotor = [
      'run-state',
      'modulating',
      'run-state-age',
      'alarm-state',
      'run-state-lost',
      'run-state-since',
    ];
    expect(ofMotor.map((name) => at('fan-a', name))).toEqual([256, 257, 258, 259, 263, 264]);
    const ofGateway = [
      'test',
      'layout',
      'word-order',
      'heartbeat',
      'status',
      'uptime',
      'time',
      'revision',
      'map',
    ];
    expect(ofGateway.map((name) => at('gateway', name))).toEqual([0, 2, 3, 4, 5, 6, 8, 12, 14]);
  });

  it('does not move when a motor is added, and says so by its fingerprint when it does', () => {
    const more = smallPlant({
      motors: [{ key: 'aaa', zone: 'hall', hasRunState: true, knownMs: null }, ...smallPlant().motors],
    });
    const grown = layOutMap(more, new Map([...SLOTS, ['aaa', 3]]), POSITIONS);
    const rows = new Set(listRegisters(grown).map((row) => JSON.stringify(row)));
    for (const row of listRegisters(map)) expect(rows.has(JSON.stringify(row))).toBe(true);
    expect(grown.fingerprint).not.toBe(map.fingerprint);
    expect(layOutMap(smallPlant(), SLOTS, POSITIONS).fingerprint).toBe(map.fingerprint);
  });
});

describe('numbers', () => {
  it('have their bytes in the order that they are named by', () => {
    const written = WORD_ORDERS.map((order) => {
      const into = Buffer.alloc(4);
      writeU32(into, 0, 0x0a0b0c0d, order);
      return into.toString('hex');
    });
    expect(written).toEqual(['0a0b0c0d', '0c0d0a0b', '0b0a0d0c', '0d0c0b0a']);
  });

  it('stay one below what means unknown, and are never negative', () => {
    expect([null, NaN, -3, 1.5, 65_534, 65_535, 1e9].map((value) => toWord(value, UNKNOWN_U16))).toEqual([
      65_535, 65_535, 0, 2, 65_534, 65_534, 65_534,
    ]);
    expect(toWord(Infinity, UNKNOWN_U32)).toBe(UNKNOWN_U32 - 1);
  });
});

describe('registers', () => {
  it('hold the rate times 100, and unknown once it is too old', () => {
    const picture = fedPicture({ rates: [rateNews()], drives: [driveNews()] });
    const fresh = draw(picture);
    expect(fresh.u32(at('pump-1/de', 'rate'))).toBe(1234);
    expect(fresh.u32(at('pump-1/de', 'rate-lower'))).toBe(1010);
    expect(fresh.u16(at('pump-1/de', 'rate-quality'))).toBe(1);
    expect(fresh.u16(at('pump-1/de', 'rate-age'))).toBe(20);
    expect(fresh.u16(at('pump-1', 'run-state'))).toBe(3);
    expect(fresh.u32(at('pump-1/nde', 'rate'))).toBe(UNKNOWN_U32);
    expect(fresh.u16(at('pump-1/nde', 'rate-quality'))).toBe(0);
    const late = draw(picture, NOW + 101_000);
    expect(late.u32(at('pump-1/de', 'rate'))).toBe(UNKNOWN_U32);
    expect(late.u16(at('pump-1/de', 'rate-quality'))).toBe(3);
    expect(late.u16(at('pump-1/de', 'rate-age'))).toBe(121);
    const years = draw(picture, NOW + 1e9);
    expect(years.u16(at('pump-1/de', 'rate-age'))).toBe(UNKNOWN_U16 - 1);
  });

  it('hold alarm states while the gateway speaks, and unknown when it does not', () => {
    const picture = fedPicture({ alarms: [alarmNews('pump-1.de-rate-high')] });
    const names = ['alarm-state', 'alarm-priority', 'alarms-active', 'alarms-unacknowledged'];
    const read = (now: number) => names.map((name) => draw(picture, now).u16(at('pump-1', name)));
    expect(read(NOW)).toEqual([1, 2, 1, 1]);
    expect(draw(picture).u16(at('pump-1/de', 'rate-high'))).toBe(1);
    expect(draw(picture).u16(at('pump-1/de', 'rising'))).toBe(UNKNOWN_U16);
    expect(draw(picture).u16(at('gateway', 'alarms-active'))).toBe(1);
    expect(read(NOW + 10_001)).toEqual([65_535, 65_535, 65_535, 65_535]);
    expect(draw(picture, NOW + 10_001).u16(at('gateway', 'status'))).toBe(2);
    picture.feed = { ...picture.feed, isReady: false };
    expect(read(NOW)).toEqual([65_535, 65_535, 65_535, 65_535]);
    expect(draw(picture).u16(at('gateway', 'status'))).toBe(1);
  });

  it('of the gateway say who it is and that it lives', () => {
    const shown = draw(fedPicture());
    expect(shown.u32(0)).toBe(305_419_896);
    expect(shown.u16(at('gateway', 'heartbeat'))).toBe(4);
    expect(shown.u32(at('gateway', 'uptime'))).toBe(90);
    expect(shown.u32(at('gateway', 'revision'))).toBe(0x0a1b2c3d);
    expect(shown.u32(at('gateway', 'map'))).toBe(map.fingerprint);
    expect([shown.u16(at('gateway', 'motors')), shown.u16(at('gateway', 'sensors'))]).toEqual([3, 5]);
  });

  it('between slots and of motors that are gone read as unknown', () => {
    const shown = draw(fedPicture());
    for (let register = addressOfSlot(3, 2); register < addressOfSlot(4, 2); register++)
      expect(shown.u16(register)).toBe(UNKNOWN_U16);
  });
});

describe('requests', () => {
  const image = Buffer.alloc(2 * 200, 7);
  const ask = (code: number, address: number, count: number, unit = 1): string => {
    const pdu = Buffer.from([code, address >> 8, address & 255, count >> 8, count & 255]);
    return answerRequest(pdu, unit, 1, image).subarray(0, 2).toString('hex');
  };
  it('are answered for functions 3 and 4, and refused by the right exception else', () => {
    expect(ask(3, 0, 125)).toBe('03fa');
    expect(ask(4, 199, 1)).toBe('0402');
    expect(ask(3, 199, 2)).toBe('8302');
    expect(ask(3, 65_535, 2)).toBe('8302');
    expect(ask(3, 0, 0)).toBe('8303');
    expect(ask(4, 0, 126)).toBe('8403');
    expect([1, 2, 5, 6, 15, 16, 22, 23, 43].map((code) => ask(code, 0, 1))).toEqual(
      ['81', '82', '85', '86', '8f', '90', '96', '97', 'ab'].map((code) => `${code}01`),
    );
    expect([0, 255, 1].map((unit) => ask(3, 0, 1, unit))).toEqual(['0302', '0302', '0302']);
    expect(ask(3, 0, 1, 2)).toBe('830b');
    expect(answerRequest(Buffer.from([3, 0]), 1, 1, image).toString('hex')).toBe('8303');
  });

  it('come out whole however they are cut, and anything else ends the connection', () => {
    const frames = [1, 2, 3].map((n) => writeFrame(n, 1, Buffer.from([3, 0, n, 0, 1])));
    const stream = Buffer.concat(frames);
    fc.assert(
      fc.property(fc.integer({ min: 0, max: stream.length }), (cut) => {
        const first = takeFrames(stream.subarray(0, cut))!;
        const second = takeFrames(Buffer.concat([first.rest, stream.subarray(cut)]))!;
        const all = [...first.frames, ...second.frames].map(({ transaction, pdu }) => [transaction, pdu[2]]);
        expect(all).toEqual([1, 2, 3].map((n) => [n, n]));
        expect(second.rest.length).toBe(0);
      }),
    );
    expect(takeFrames(Buffer.from('GET / HTTP/1.1\r\n'))).toBeNull();
    expect(takeFrames(Buffer.from([0, 1, 0, 0, 255, 255, 1]))).toBeNull();
    expect(takeFrames(Buffer.from([0, 1, 0, 0, 0, 1, 1]))).toBeNull();
  });
});
