/** Payloads that no device should send, by kind. Each kind must leave at least one explained row in quarantine. */

type Random = () => number;

export const DAMAGED_KINDS = [
  'no-json',
  'cut-json',
  'wrong-type',
  'bad-count',
  'bad-time',
  'bad-name',
  'no-utf8',
  'empty',
  'deep',
  'not-an-object',
  'wide',
] as const;
export type DamagedKind = (typeof DAMAGED_KINDS)[number];

function pick<T>(random: Random, values: readonly T[]): T {
  return values[Math.floor(random() * values.length)]!;
}

export function randomBytes(random: Random, most: number): Buffer {
  const bytes = Buffer.alloc(Math.floor(random() * (most + 1)));
  for (let i = 0; i < bytes.length; i++) bytes[i] = Math.floor(random() * 256);
  return bytes;
}

/** A reading as it should be; `change` replaces its fields, undefined removes one. */
export function readingWith(random: Random, change: Record<string, unknown>): Buffer {
  const seq = Math.floor(random() * 1e6);
  const reading = { device: 'SN-F', boot: 1, seq, count: seq * 3, at: Date.now(), ...change };
  return Buffer.from(JSON.stringify(reading));
}

const WRONG = ['7', true, null, [], {}, [1], { value: 1 }, '', 'NaN', '0x10', '1e3'] as const;
const BAD_COUNTS = [
  -1,
  -0.5,
  0.5,
  1e308,
  -1e308,
  2 ** 53,
  2 ** 60,
  1.0000001,
  null,
  '12',
  undefined,
] as const;
const BAD_TIMES = [
  '2026-02-30T00:00:00Z',
  '2026-13-01T00:00:00Z',
  '2026-01-01T25:00:00Z',
  '2026-01-01T00:00:00',
  '2026-01-01',
  'yesterday',
  '',
  -1.5,
  1.5,
  1e300,
  true,
  [],
  '9999999999999999999999',
] as const;

export function makeDamaged(random: Random, kind: DamagedKind): Buffer {
  switch (kind) {
    case 'no-json':
      return Buffer.from(
        pick(random, [
          'hello',
          '{]',
          '}{',
          'undefined',
          "{'count':1}",
          '\\u0000',
          'count=7',
          '{"count":01}',
          '{"count":+1}',
          '{count:1}',
        ]),
      );
    case 'cut-json': {
      const whole = readingWith(random, {});
      return whole.subarray(0, 1 + Math.floor(random() * (whole.length - 1)));
    }
    case 'wrong-type': {
      const field = pick(random, ['device', 'seq', 'boot', 'up_ms', 'temperature_c', 'check']);
      const value =
        field === 'device'
          ? pick(random, [7, true, [], {}, 'x'.repeat(65)])
          : pick(random, [...WRONG.filter((w) => w !== null && w !== true)]);
      return readingWith(random, { [field]: value });
    }
    case 'bad-count':
      return readingWith(random, { count: pick(random, BAD_COUNTS) });
    case 'bad-time':
      return readingWith(random, { at: pick(random, BAD_TIMES) });
    case 'bad-name':
    case 'wide':
      return readingWith(random, {
        count: undefined,
        ['x'.repeat(Math.floor(random() * 2000))]: randomBytes(random, 500).toString('base64'),
      });
    case 'no-utf8':
      return Buffer.concat([
        Buffer.from('{"count":1,"device":"'),
        Buffer.from([0xff, 0xfe, 0xc0, 0x80]),
        randomBytes(random, 20),
        Buffer.from('"}'),
      ]);
    case 'empty':
      return Buffer.alloc(0);
    case 'deep': {
      const depth = 100 + Math.floor(random() * 8000);
      return Buffer.from(`{"count":${'['.repeat(depth)}${']'.repeat(depth)}}`);
    }
    case 'not-an-object':
      return Buffer.from(
        pick(random, ['null', 'true', '7', '-0', '"count"', '[]', '[{"count":1}]', '1e999', '""']),
      );
  }
}
