/** What a stretch of time held of an alarm's activations, by eye. */
import { expect, it } from 'vitest';
import { newActivation, tallyActivations, type Activation } from '../../src/rehearsal/activation.js';

function activations(...spans: [from: number, to: number | null][]): Activation[] {
  return spans.map(([from, to]) => ({
    ...newActivation('a', from * 1000, from * 1000, ''),
    to: to === null ? null : to * 1000,
  }));
}
const tally = (from: number, to: number, ...spans: [number, number | null][]) =>
  tallyActivations(activations(...spans), from * 1000, to * 1000);

it('counts what began in the stretch, and the time that stood in it', () => {
  const found = tally(100, 10_000, [50, 200], [5000, 5600], [9000, null]);
  expect(found).toMatchObject({ raised: 2, standsAtStart: true, standsAtEnd: true });
  expect(found.stoodMs).toBe((100 + 600 + 1000) * 1000);
  expect(found.longestMs).toBe(1_000_000);
  expect(found.activations).toEqual([
    { from: 50_000, to: 200_000 },
    { from: 5_000_000, to: 5_600_000 },
    { from: 9_000_000, to: null },
  ]);
});

it('what ended before, or begins after, is no part of it', () => {
  expect(tally(100, 200, [10, 100], [200, 300])).toMatchObject({ raised: 0, stoodMs: 0, standsAtEnd: false });
});

it('a return behind the end is none yet', () => {
  const found = tally(0, 100, [50, 300]);
  expect(found).toMatchObject({ raised: 1, stoodMs: 50_000, standsAtEnd: true });
  expect(found.activations).toEqual([{ from: 50_000, to: null }]);
});

it('three within a minute chatter, two do not, and a third after a minute does not', () => {
  expect(tally(0, 1000, [0, 5], [20, 25], [59, 61]).chattering).toBe(3);
  expect(tally(0, 1000, [0, 5], [20, 25], [60, 61]).chattering).toBe(0);
  expect(tally(0, 1000, [0, 5], [20, 25]).chattering).toBe(0);
  expect(tally(0, 1000, [0, 5], [20, 25], [59, 61], [70, 71], [500, 600]).chattering).toBe(4);
});

it('less than an hour after the one before is a repetition, also across the beginning', () => {
  expect(tally(0, 20_000, [0, 10], [3599, 3700], [7199, 7300]).repeated).toBe(1);
  expect(tally(1000, 20_000, [0, 10], [3599, 3700]).repeated).toBe(1);
});
