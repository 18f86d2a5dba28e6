/** Changes of simulated counts: how often one is called where there is none, and whether its range holds the true place. */
import { describe, expect, it } from 'vitest';
import { type Block, findChange, findChanges } from '../../src/stats/change-point.js';
import { drawPoisson, seededRandom } from './random.js';

/** Blocks of pulses that come `lump` at a time: dispersion `lump`. Exposures differ. */
function drawBlocks(
  random: () => number,
  n: number,
  change: number,
  before: number,
  after: number,
  lump = 1,
): Block[] {
  return Array.from({ length: n }, (_, i) => {
    const exposure = 0.5 + random();
    return {
      pulses: lump * drawPoisson(random, ((i < change ? before : after) * exposure) / lump),
      exposure,
    };
  });
}

describe('change point', () => {
  it('is called in at most 5 % of series without one, lumpy ones included', () => {
    for (const [n, lump, dispersion, seed] of [
      [50, 1, 1, 3],
      [200, 1, 1, 4],
      [60, 6, 6, 5],
      [60, 6, null, 6],
    ] as const) {
      const random = seededRandom(seed);
      let called = 0;
      for (let i = 0; i < 400; i++) {
        if (findChange(drawBlocks(random, n, 0, 30, 30, lump), dispersion)!.p < 0.05) called += 1;
      }
      expect(called / 400, `${n} blocks, φ ${lump}, given ${dispersion}`).toBeLessThan(0.08);
    }
  });

  it('is called nearly always in lumpy counts whose dispersion is ignored', () => {
    const random = seededRandom(7);
    let called = 0;
    for (let i = 0; i < 100; i++)
      if (findChange(drawBlocks(random, 60, 0, 30, 30, 6), 1)!.p < 0.05) called += 1;
    expect(called).toBeGreaterThan(80);
  });

  it('is found, and its range holds the true place in about 95 %', () => {
    const random = seededRandom(9);
    let called = 0;
    let held = 0;
    for (let i = 0; i < 300; i++) {
      const found = findChange(drawBlocks(random, 80, 50, 20, 32, 4), 4)!;
      if (found.p < 0.01) called += 1;
      if (found.earliest <= 50 && 50 <= found.latest) held += 1;
    }
    expect(called / 300).toBeGreaterThan(0.9);
    expect(held / 300).toBeGreaterThan(0.92);
  });

  it('several changes are found in order', () => {
    const random = seededRandom(2);
    const blocks = [...drawBlocks(random, 40, 40, 20, 20), ...drawBlocks(random, 40, 40, 40, 40)];
    blocks.push(...drawBlocks(random, 40, 40, 10, 10));
    const found = findChanges(blocks, 1, 0.001);
    expect(found.length).toBe(2);
    expect(Math.abs(found[0]!.index - 40)).toBeLessThan(4);
    expect(Math.abs(found[1]!.index - 80)).toBeLessThan(3);
    expect(found[1]!.earliest).toBeLessThanOrEqual(80);
    expect(found[1]!.latest).toBeGreaterThanOrEqual(80);
  });

  it('says nothing where nothing can be said', () => {
    const quiet = Array.from({ length: 10 }, () => ({ pulses: 0, exposure: 1 }));
    expect(findChange(quiet, 1)).toBeNull();
    expect(findChange([{ pulses: 3, exposure: 1 }], 1)).toBeNull();
    expect(findChange([...quiet, { pulses: 3, exposure: 0 }], 1)).toBeNull();
  });
});
