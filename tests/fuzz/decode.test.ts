/** Decoding takes any bytes on any topic: it never throws, and what it refuses it explains. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { decodeBytes, decodeJson, routeTopic, type Decoded, type Route } from '../../src/engine/decode.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';
import { DAMAGED_KINDS, makeDamaged, readingWith } from './payloads.js';
import { seedRandom } from '../support/seeded-random.js';

const plan = makePlan([motorPlan('pump-1')], [sensorPlan('pump-1', 'de', { counterBits: 32 })]);
const TOPICS = ['de/reading', 'de/presence', 'drive/state', 'drive/presence'] as const;
const RECEIVED_AT = 1_790_000_000_000;

function routeOf(topic: string): Route {
  return routeTopic(`${plan.site}/in/pump-1/${topic}`, plan);
}

function expectExplained(decoded: Decoded): void {
  if (!decoded.ok) expect(decoded.reason.trim().length).toBeGreaterThan(5);
}

/** JSON that looks like a message: the right keys, any values. */
const nearlyMessage = fc.dictionary(
  fc.constantFrom(
    'device',
    'count',
    'at',
    'seq',
    'boot',
    'up_ms',
    'check',
    'temperature_c',
    'online',
    'state',
    'since',
    'modulating',
    '__proto__',
    'constructor',
  ),
  fc.oneof(
    fc.jsonValue(),
    fc.integer(),
    fc.double(),
    fc.constantFrom('running', 'stopped', '2026-03-02T06:00:10Z', 1_790_000_000_000),
  ),
);

describe('decode', () => {
  it('takes any bytes', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...TOPICS),
        fc.uint8Array({ maxLength: 300 }),
        fc.boolean(),
        (topic, bytes, isRetained) => {
          expectExplained(decodeBytes(routeOf(topic), Buffer.from(bytes), isRetained, RECEIVED_AT));
        },
      ),
      { numRuns: 2_000 },
    );
  });

  it('takes any JSON, and a fact has whole numbers in their range', () => {
    fc.assert(
      fc.property(fc.constantFrom(...TOPICS), fc.oneof(fc.jsonValue(), nearlyMessage), (topic, json) => {
        const decoded = decodeJson(routeOf(topic), json, RECEIVED_AT);
        expectExplained(decoded);
        if (!decoded.ok || decoded.fact?.kind !== 'reading') return;
        const { count, seq, boot, upMs, at } = decoded.fact;
        expect(Number.isSafeInteger(count) && count >= 0 && count < 2 ** 32).toBe(true);
        for (const value of [seq, boot, upMs])
          expect(value === null || (Number.isSafeInteger(value) && value >= 0)).toBe(true);
        expect(at === null || Number.isSafeInteger(at)).toBe(true);
      }),
      { numRuns: 3_000 },
    );
  });

  it('takes any topic', () => {
    const level = fc.oneof(
      fc.constantFrom(
        'tarn-hollow',
        'in',
        'out',
        'pump-1',
        'de',
        'reading',
        'drive',
        'state',
        '+',
        '#',
        '',
        '$SYS',
      ),
      fc.string(),
    );
    fc.assert(
      fc.property(
        fc.oneof(
          fc.string(),
          fc.array(level, { maxLength: 7 }).map((levels) => levels.join('/')),
        ),
        (topic) => {
          const route = routeTopic(topic, plan);
          if (route.kind === 'refused') expect(route.reason.trim().length).toBeGreaterThan(5);
          expectExplained(decodeBytes(route, readingWith(Math.random, {}), false, RECEIVED_AT));
        },
      ),
      { numRuns: 3_000 },
    );
  });

  it('a byte changed in a good reading gives a fact or a reason', () => {
    fc.assert(
      fc.property(fc.nat(), fc.nat({ max: 255 }), (where, byte) => {
        const bytes = Buffer.from(
          '{"device":"SN-1","boot":3,"seq":1201,"count":48211,"at":"2026-03-02T06:00:10.000Z"}',
        );
        bytes[where % bytes.length] = byte;
        expectExplained(decodeBytes(routeOf('de/reading'), bytes, false, RECEIVED_AT));
      }),
      { numRuns: 3_000 },
    );
  });

  it.each(DAMAGED_KINDS.filter((kind) => kind !== 'bad-name'))('refuses every payload of kind %s', (kind) => {
    const random = seedRandom(7);
    for (let i = 0; i < 200; i++) {
      const payload = makeDamaged(random, kind);
      const decoded = decodeBytes(routeOf('de/reading'), payload, false, RECEIVED_AT);
      expect(decoded.ok, payload.toString('utf8').slice(0, 200)).toBe(false);
      expectExplained(decoded);
    }
  });
});
