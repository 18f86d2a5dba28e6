/** What our encoder writes, read by the decoder of another implementation; and commands that nobody should have sent. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  commandsTrue,
  DataType,
  encodePayload,
  Quality,
  type Metric,
} from '../../../src/forward/sparkplug/payload.js';
import { cutMetrics, decodePayload } from './decode.js';

const plain: Metric = {
  ...{ name: 'n', alias: 1, timestamp: 1_000, type: DataType.int64, tellsType: true, isHistorical: false },
  ...{ value: 5, quality: null, isUncertain: null },
};
const integer = fc.integer({ min: Number.MIN_SAFE_INTEGER, max: Number.MAX_SAFE_INTEGER });
const valued = fc.oneof(
  fc.record({ type: fc.constant(DataType.int64), value: integer }),
  fc.record({ type: fc.constant(DataType.double), value: fc.double({ noNaN: true }) }),
  fc.record({ type: fc.constant(DataType.boolean), value: fc.boolean() }),
  fc.record({ type: fc.constant(DataType.string), value: fc.string({ unit: 'binary', maxLength: 300 }) }),
  fc.record({ type: fc.constant(DataType.dateTime), value: fc.nat(Number.MAX_SAFE_INTEGER) }),
);
const metric: fc.Arbitrary<Metric> = fc
  .record({
    ...{ name: fc.option(fc.string({ unit: 'binary', maxLength: 200 })), alias: fc.option(fc.nat()) },
    ...{ timestamp: fc.nat(Number.MAX_SAFE_INTEGER), tellsType: fc.boolean(), isHistorical: fc.boolean() },
    ...{
      quality: fc.option(fc.constantFrom(...Object.values(Quality))),
      isUncertain: fc.option(fc.boolean()),
    },
    ...{ valued, isNull: fc.boolean() },
  })
  .map(({ valued: { type, value }, isNull, ...rest }) => ({ ...rest, type, value: isNull ? null : value }));

describe('a payload', () => {
  it('is read by another decoder as it was meant, whatever it holds', () => {
    const property = fc.property(
      fc.array(metric, { maxLength: 20 }),
      fc.nat(Number.MAX_SAFE_INTEGER),
      fc.option(fc.integer({ min: 0, max: 255 })),
      (metrics, timestamp, seq) => {
        const bytes = encodePayload({ timestamp, seq, metrics });
        expect(cutMetrics(bytes)).toHaveLength(metrics.length);
        const read = decodePayload(bytes);
        expect({ timestamp: read.timestamp, seq: read.seq }).toEqual({ timestamp, seq });
        read.metrics.forEach((found, i) => expect(found).toEqual(expected(metrics[i]!)));
      },
    );
    fc.assert(property, { numRuns: 300 });
  });

  it('says historical with one bit, which is on the wire only where it is meant', () => {
    const bytes = (isHistorical: boolean) =>
      encodePayload({ timestamp: 1, seq: 0, metrics: [{ ...plain, name: null, isHistorical }] });
    expect(bytes(true).toString('hex')).toBe(
      '0801' + '120b' + '0801'.replace('08', '10') + '18e807' + '2004' + '2801' + '5805' + '1800',
    );
    expect(bytes(false).toString('hex')).toBe('0801' + '1209' + '1001' + '18e807' + '2004' + '5805' + '1800');
  });

  it('of a rebirth request is understood; anything else is no request', () => {
    const ask = (change: Partial<Metric>) =>
      commandsTrue(
        encodePayload({ timestamp: 1, seq: 0, metrics: [{ ...plain, ...change }] }),
        'Node Control/Rebirth',
      );
    const request = { name: 'Node Control/Rebirth', type: DataType.boolean, value: true };
    expect(ask(request)).toBe(true);
    expect(ask({ ...request, value: false })).toBe(false);
    expect(ask({ ...request, value: null })).toBe(false);
    expect(ask({ ...request, name: 'Node Control/Reboot' })).toBe(false);
    expect(ask({ name: 'Node Control/Rebirth', value: 1 })).toBe(false);
  });

  it('of any bytes ends in an answer or in a RangeError', () => {
    const property = fc.property(fc.uint8Array({ maxLength: 200 }), (bytes) => {
      try {
        expect(commandsTrue(Buffer.from(bytes), 'Node Control/Rebirth')).toBeTypeOf('boolean');
      } catch (error) {
        expect(error).toBeInstanceOf(RangeError);
      }
    });
    fc.assert(property, { numRuns: 500 });
  });
});

function expected({
  name,
  alias,
  timestamp,
  type,
  tellsType,
  isHistorical,
  value,
  quality,
  isUncertain,
}: Metric) {
  const text = typeof value === 'string' ? Buffer.from(value).toString() : value;
  const own = isUncertain === null ? {} : { uncertain: { type: 11, value: isUncertain } };
  const wrapped = typeof text === 'number' && text < 0 && type === DataType.int64;
  return {
    ...{ name: name === null ? null : Buffer.from(name).toString(), alias, timestamp },
    ...{ datatype: tellsType ? type : null, isHistorical, isNull: value === null },
    // a negative 64-bit integer travels in two's complement, in a field that is unsigned
    value: wrapped ? Number(BigInt.asUintN(64, BigInt(text))) : text,
    properties: quality === null ? {} : { Quality: { type: 3, value: quality }, ...own },
  };
}
