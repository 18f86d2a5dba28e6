/** Times and numbers in sentences: no person reads milliseconds since 1970. */
import { expect, it } from 'vitest';
import { format, sayAge, sayOffset } from '../../src/core/figures.js';

it('a small rate is not told as none', () => {
  expect([0.0021, 0.0004, 0.017, 0.1, 0.25, 0].map(format)).toEqual([
    '0.0021',
    '0.00040',
    '0.017',
    '0.10',
    '0.25',
    '0.00',
  ]);
  expect([1, 12.34, 123.4, Infinity].map(format)).toEqual([
    '1.00',
    '12.3',
    '123',
    'more than can be counted',
  ]);
});

it('an age comes in a unit that a person can picture', () => {
  expect([335, 5400, 160_000, 1_036_800].map(sayAge)).toEqual(['335 s', '90 min', '44 h', '12 days']);
});

it('a wrong clock is told by how far it is off, and to which side', () => {
  const at = Date.UTC(2026, 2, 2);
  expect(sayOffset(at + 155_000, at)).toBe("155 s ahead of the gateway's");
  expect(sayOffset(0, at)).toBe("20514 days behind the gateway's");
});
