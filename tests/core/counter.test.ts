/**
 * Counters as step tables: what is sent, and which increments, segments and unknown stretches come of it.
 * Source of the counter rules: RFC 2578 section 7.1.6 (a wrapping counter: one value says nothing, it wraps from its
 * maximum to zero); the limits of proof are the project's own.
 */
import { describe, expect, it } from 'vitest';
import { Flag } from '../../src/core/words.js';
import { feed, T0, type Line } from '../support/fed-readings.js';

const bare = { boot: null, seq: null };

describe('from counts to increments', () => {
  it('anchors at the first reading and counts from there', () => {
    expect(
      feed([
        [0, 100],
        [10, 107],
        [20, 107],
      ]).pulses,
    ).toEqual(['0..10: 7', '10..20: 0']);
  });

  it('a lost message loses no pulse: the next increment is longer', () => {
    expect(
      feed([
        [0, 100],
        [10, 105],
        [30, 119, { seq: 3 }],
      ]).pulses,
    ).toEqual(['0..10: 5', '10..30: 14']);
  });

  it('a late reading splits the increment it falls into', () => {
    const { pulses, diagnostics } = feed([
      [0, 100, { seq: 0 }],
      [20, 119, { seq: 2 }],
      [30, 121, { seq: 3 }],
      [10, 105, { seq: 1, receivedAt: T0 + 31_000 }],
    ]);
    expect(pulses).toEqual(['0..10: 5', '10..20: 14', '20..30: 2']);
    expect(diagnostics['late']).toBe(1);
  });

  it('drops a duplicate, and the second of two that conflict', () => {
    const { pulses, diagnostics } = feed([
      [0, 100],
      [10, 105, { seq: 1 }],
      [10, 105, { seq: 1 }],
      [10, 106, { seq: 1 }],
      [20, 109, { seq: 2 }],
    ]);
    expect(pulses).toEqual(['0..10: 5', '10..20: 4']);
    expect(diagnostics).toEqual({ duplicate: 1, conflict: 1 });
  });

  it('wraps at its modulus when a second wrap was impossible', () => {
    const line: Line[] = [
      [0, 65_530],
      [10, 4],
      [20, 10],
    ];
    expect(feed(line, { counterBits: 16, maxRatePerS: 500 }).pulses).toEqual(['0..10: 10', '10..20: 6']);
  });

  it('does not guess a wrap when there may have been two', () => {
    const { pulses, unknown } = feed(
      [
        [0, 65_530],
        [200, 4],
        [210, 10],
      ],
      { counterBits: 16, maxRatePerS: 500 },
    );
    expect(pulses).toEqual(['200..210: 6']);
    expect(unknown).toEqual(['may-have-wrapped 0..200: 10 to 100001']);
  });

  it('a rise too is unknown when the counter may have gone round', () => {
    const { pulses, unknown } = feed(
      [
        [0, 10],
        [200, 400],
        [210, 410],
      ],
      { counterBits: 16, maxRatePerS: 500 },
    );
    expect(pulses).toEqual(['200..210: 10']);
    expect(unknown).toEqual(['may-have-wrapped 0..200: 390 to 100001']);
  });

  it('counts a new boot from zero at its power-up, and lists the power cut', () => {
    const { pulses, unknown } = feed([
      [0, 500],
      [10, 510],
      [30, 12, { boot: 2, seq: 0, upMs: 8000 }],
      [40, 15, { boot: 2, seq: 1, upMs: 18_000 }],
    ]);
    expect(pulses).toEqual(['0..10: 10', '22..30: 12', '30..40: 3']);
    expect(unknown).toEqual(['power-cut 10..22: 0 to 600001']);
  });

  it('without a run time a new boot leaves the whole time since the last reading unknown', () => {
    const { pulses, unknown, rows } = feed([
      [0, 100],
      [10, 105],
      [30, 12, { boot: 2, seq: 0 }],
    ]);
    expect(pulses).toEqual(['0..10: 5', '10..30: 12']);
    expect(unknown).toEqual(['power-cut 10..30: 0 to 1000001']);
    expect(rows.at(-1)!.flags & Flag.fromZero).toBe(Flag.fromZero);
  });

  it('lists a skipped boot', () => {
    const { unknown } = feed([
      [0, 500],
      [10, 510],
      [40, 12, { boot: 4, seq: 0, upMs: 8000 }],
    ]);
    expect(unknown).toEqual(['skipped-boot 10..32: 0 to 1100001']);
  });

  it('anchors anew on another device, whatever its count', () => {
    const { pulses, unknown } = feed([
      [0, 500],
      [10, 510],
      [20, 90_000, { device: 'SN-2', seq: 5 }],
      [30, 90_004, { device: 'SN-2', seq: 6 }],
    ]);
    expect(pulses).toEqual(['0..10: 10', '20..30: 4']);
    expect(unknown).toEqual(['device-swap 10..20: 0 to 500001']);
  });

  it('sets a torn count aside when the next reading fits the last good one', () => {
    const { pulses, diagnostics } = feed([
      [0, 100],
      [10, 9_000_000],
      [20, 112],
    ]);
    expect(pulses).toEqual(['0..20: 12']);
    expect(diagnostics['torn']).toBe(1);
  });

  it('lets an implausible count stand when the next goes on from it, as rejected', () => {
    const { pulses, rows } = feed([
      [0, 100],
      [10, 9_000_100],
      [20, 9_000_112],
    ]);
    expect(pulses).toEqual(['0..10: 9000000', '10..20: 12']);
    expect(rows[1]!.flags & Flag.rejected).toBe(Flag.rejected);
  });

  it('a fall without boot or sequence is a reset without proof', () => {
    const { pulses, unknown } = feed([
      [0, 1000, bare],
      [10, 1010, bare],
      [20, 5, bare],
      [30, 9, bare],
    ]);
    expect(pulses).toEqual(['0..10: 10', '20..30: 4']);
    expect(unknown).toEqual(['reset 10..20: 5 to 500001']);
  });

  it('a sequence that restarts proves a restart', () => {
    const { pulses, unknown } = feed([
      [0, 1000, { boot: null, seq: 40 }],
      [10, 1010, { boot: null, seq: 41 }],
      [20, 2000, { boot: null, seq: 0 }],
      [30, 2004, { boot: null, seq: 1 }],
    ]);
    expect(pulses).toEqual(['0..10: 10', '20..30: 4']);
    expect(unknown).toEqual(['reset 10..20: 2000 to 500001']);
  });

  it('a clock that steps back keeps every pulse', () => {
    const { rows } = feed([
      [0, 100],
      [10, 105],
      [20, 111],
      [-80, 118],
      [-70, 120],
    ]);
    expect(rows.reduce((sum, row) => sum + row.pulses, 0)).toBe(20);
  });
});
