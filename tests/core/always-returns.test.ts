/**
 * A motor whose rate really fell always returns, however bursty it is: simulated over the whole range of rates, dispersions,
 * lengths and shapes of bursts, through the live code of the condition and of the dispersion.
 */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { openStream } from '../../simulator/random.js';
import { addToBlocks, partsOf, type ReturnBlock } from '../../src/core/return-window.js';
import { openNoise, SHAPES, type NoiseWish } from '../score/noise.js';
import { RateMotor } from '../support/rate-motor.js';

const HOUR_MS = 3_600_000;
const HOUR = 360;

interface Life {
  readonly seed: number;
  readonly wish: Omit<NoiseWish, 'ratePerS'>;
  /** setpoint − deadband, per minute */
  readonly lowPerMin: number;
  /** share of the setpoint */
  readonly deadbandShare: number;
  /** rate of the alarm, then of the hours after it in which nothing can be decided, then after the fall: times `lowPerMin` */
  readonly high: number;
  readonly highHours: number;
  readonly hoveringHours: number;
  readonly fallen: number;
}

/** Hours from the fall to the return; null: not within `hours`. Asserts that it was raised. */
function hoursToReturn(life: Life, hours: number): number | null {
  const { lowPerMin, deadbandShare, wish } = life;
  const setpoint = lowPerMin / (1 - deadbandShare);
  const motor = new RateMotor(setpoint, { deadbandPerMin: setpoint - lowPerMin });
  const noise = openNoise(openStream(life.seed, 'returns'), { ...wish, ratePerS: lowPerMin / 60 });
  const run = (factor: number, windows: number, isOver: () => boolean): void => {
    for (let i = 0; i < windows && !isOver(); i++) motor.run(noise(factor));
  };
  run(0.4, 12 * HOUR, () => motor.isActive);
  run(life.high, 30 * 24 * HOUR, () => motor.isActive);
  expect(motor.isActive).toBe(true);
  run(life.high, life.highHours * HOUR, () => false);
  run(1 + 1.2 * deadbandShare, life.hoveringHours * HOUR, () => !motor.isActive);
  if (!motor.isActive) return 0;
  const fellAt = motor.now;
  run(life.fallen, hours * HOUR, () => !motor.isActive);
  return motor.isActive ? null : (motor.now - fellAt) / HOUR_MS;
}

const wish = fc.record({
  shape: fc.constantFrom(...SHAPES),
  dispersion: fc.double({ min: 1, max: 50, noNaN: true }),
  burstS: fc.integer({ min: 5, max: 300 }),
});

const life = (fallen: fc.Arbitrary<number>): fc.Arbitrary<Life> =>
  fc.record({
    ...{ seed: fc.nat(), wish, fallen },
    lowPerMin: fc.integer({ min: 100, max: 3000 }),
    deadbandShare: fc.constantFrom(0, 0.1, 0.3),
    high: fc.constantFrom(3, 10),
    highHours: fc.integer({ min: 0, max: 60 }),
    hoveringHours: fc.constantFrom(0, 0, 12, 48),
  });

describe('a rate that fell', () => {
  it('to half or less returns within two days', () => {
    fc.assert(
      fc.property(life(fc.double({ min: 0, max: 0.5, noNaN: true })), (one) => {
        expect(hoursToReturn(one, 48)).not.toBeNull();
      }),
      { numRuns: 25, seed: 4 },
    );
  }, 300_000);

  it('to anything up to a tenth below the setpoint less the deadband returns within a month', () => {
    fc.assert(
      fc.property(life(fc.double({ min: 0.5, max: 0.9, noNaN: true })), (one) => {
        expect(hoursToReturn(one, 720)).not.toBeNull();
      }),
      { numRuns: 15, seed: 5 },
    );
  }, 300_000);

  it.each([1, 5, 50])(
    'to 3 percent below it returns too, at a dispersion of %i',
    (dispersion) => {
      const one = {
        ...{ seed: 11, wish: { shape: SHAPES[0], dispersion, burstS: 60 }, lowPerMin: 3000 },
        ...{ deadbandShare: 0.1, high: 3, highHours: 24, hoveringHours: 24, fallen: 0.97 },
      } as const;
      expect(hoursToReturn(one, 720)).not.toBeNull();
    },
    300_000,
  );

  it('to zero returns within the hour, after a day far above that blows up its dispersion', () => {
    for (const dispersion of [1, 20, 50]) {
      const bursts = { shape: 'clusters', dispersion, burstS: 60 } as const;
      const settings = { lowPerMin: 300, deadbandShare: 0.1, high: 10, highHours: 24, hoveringHours: 0 };
      const hours = hoursToReturn({ seed: 3, wish: bursts, ...settings, fallen: 0 }, 48);
      expect(hours).toBeLessThanOrEqual(1);
    }
  }, 120_000);
});

describe('the blocks of a return window', () => {
  it('add up to what went in, few of them, with a part that begins near every minute', () => {
    fc.assert(
      fc.property(fc.array(fc.nat(1000), { minLength: 1, maxLength: 3000 }), (counts) => {
        const blocks: ReturnBlock[] = [];
        counts.forEach((pulses, i) =>
          addToBlocks(blocks, { start: i * 60_000, pulses, ms: 60_000, bins: [] }),
        );
        const parts = partsOf(blocks, 60_000);
        expect(blocks.length).toBeLessThanOrEqual(2 * Math.ceil(Math.log2(counts.length + 1)));
        for (const { from, pulses, ms } of parts) {
          const own = counts.slice(from / 60_000);
          expect([pulses, ms]).toEqual([own.reduce((sum, x) => sum + x, 0), own.length * 60_000]);
        }
        const lengths = parts.map(({ ms }) => ms / 60_000);
        expect(lengths[lengths.length - 1]).toBe(counts.length);
        // whatever the age of a fall, a part of at least a third of it is free of what was before
        for (let i = 1; i < lengths.length; i++) expect(lengths[i]! / lengths[i - 1]!).toBeLessThanOrEqual(3);
      }),
      { numRuns: 60 },
    );
  });
});
