/** Condition bins: where a motor is at a time, and how edges are learnt. Each case can be checked by eye. */
import { describe, expect, it } from 'vitest';
import { binOf, makeGrid, type Axis } from '../../src/core/bin.js';
import { addValue, emptyHistogram, learnEdges, roundStep } from '../../src/core/bin-learning.js';
import type { DriveRow, Increment } from '../../src/core/rows.js';
import { buildTimeline } from '../../src/core/run-state.js';
import { GATE, motorPlan } from '../support/plans.js';

const T0 = 1_700_000_000_000;
const HOUR_S = 3600;

/** Second, then what the drive said; running unless it says otherwise. */
type Line = [second: number, said: Partial<Omit<DriveRow, 'at'>>];

function says([second, said]: Line): DriveRow {
  const at = T0 + second * 1000;
  return {
    ...{ motor: 'pump', at, since: null, state: 'running', modulating: true, receivedAt: at },
    ...{ speedRpm: null, loadPct: null, switchingKhz: null, dcLinkV: null },
    ...said,
  };
}

const SPEED: Axis = { axis: 'speed', edges: [600, 1200], halfWidth: 20 };

function binAt(
  lines: readonly Line[],
  from: number,
  to: number,
  more: { axes?: readonly Axis[]; gridFrom?: number; temperature?: number } = {},
): string {
  const drives = lines.map(says);
  const { stretches } = buildTimeline(motorPlan('pump'), GATE, 0.1, drives, []);
  const row = { from: T0 + from * 1000, to: T0 + to * 1000, temperature: more.temperature ?? null };
  const grid = makeGrid(more.axes ?? [SPEED], more.gridFrom ?? -Infinity);
  return binOf(grid, { drives, stretches }, row as Increment);
}

describe('the bin of an increment', () => {
  it('says what it holds', () => {
    expect(binAt([[0, { speedRpm: 300 }]], 10, 20)).toBe('speed ..600');
    expect(binAt([[0, { speedRpm: 900 }]], 10, 20)).toBe('speed 600..1200');
    expect(binAt([[0, { speedRpm: 1500 }]], 10, 20)).toBe('speed 1200..');
    const load: Axis = { axis: 'load', edges: [50], halfWidth: 0 };
    const lines: Line[] = [[0, { speedRpm: 900, loadPct: 50 }]];
    expect(binAt(lines, 10, 20, { axes: [SPEED, load] })).toBe('speed 600..1200, load 50..');
  });

  it('is unknown where nobody said, and before the first message', () => {
    expect(binAt([[0, {}]], 10, 20)).toBe('speed ?');
    expect(binAt([[100, { speedRpm: 900, since: T0 }]], 10, 20)).toBe('speed ?');
  });

  it('is mixed where it changed within', () => {
    const lines: Line[] = [
      [0, { speedRpm: 900 }],
      [15, { speedRpm: 1500 }],
    ];
    expect(binAt(lines, 0, 10)).toBe('speed 600..1200');
    expect(binAt(lines, 10, 20)).toBe('mixed');
    expect(binAt(lines, 15, 25)).toBe('speed 1200..');
    expect(binAt([...lines, [17, { speedRpm: 900 }]], 10, 20)).toBe('mixed');
  });

  it('keeps a value over messages that do not carry it, for an hour', () => {
    const lines: Line[] = [
      [0, { speedRpm: 900 }],
      [60, { loadPct: 40 }],
      [HOUR_S, { loadPct: 40 }],
      [HOUR_S + 60, { loadPct: 40 }],
    ];
    expect(binAt(lines, 70, 80)).toBe('speed 600..1200');
    expect(binAt(lines, HOUR_S + 10, HOUR_S + 20)).toBe('speed 600..1200');
    expect(binAt(lines, HOUR_S + 70, HOUR_S + 80)).toBe('speed ?');
    expect(binAt(lines.slice(0, 1), 50 * HOUR_S, 50 * HOUR_S + 10)).toBe('speed 600..1200');
  });

  it('does not flicker on an edge: the last value clear of it decides, for an hour', () => {
    const lines: Line[] = [
      [0, { speedRpm: 1300 }],
      [60, { speedRpm: 1195 }],
      [120, { speedRpm: 1205 }],
      [180, { speedRpm: 1190 }],
    ];
    expect(binAt(lines, 60, 190)).toBe('speed 1200..');
    expect(binAt(lines, HOUR_S + 10, HOUR_S + 20)).toBe('speed 600..1200');
    expect(binAt([...lines, [200, { speedRpm: 1170 }]], 200, 210)).toBe('speed 600..1200');
  });

  it('goes to the lower side when it was never clear of the edge', () => {
    expect(binAt([[0, { speedRpm: 1205 }]], 10, 20)).toBe('speed 600..1200');
    expect(binAt([[0, { speedRpm: 1221 }]], 10, 20)).toBe('speed 1200..');
  });

  it('forgets what was before a stop at an edge, and everything before an unknown run state', () => {
    const stop: Line[] = [
      [0, { speedRpm: 1300 }],
      [60, { state: 'stopped', modulating: false }],
      [120, { speedRpm: 1205 }],
    ];
    expect(binAt(stop, 130, 140)).toBe('speed 600..1200');
    const plan = motorPlan('pump', { heartbeatMs: 10_000 });
    const drives = (
      [
        [0, { speedRpm: 1300 }],
        [600, {}],
      ] as Line[]
    ).map(says);
    const { stretches } = buildTimeline(plan, GATE, 0.1, drives, []);
    const row = { from: T0 + 601_000, to: T0 + 605_000, temperature: null } as Increment;
    expect(binOf(makeGrid([SPEED], -Infinity), { drives, stretches }, row)).toBe('speed ?');
  });

  it('takes the temperature from the reading itself', () => {
    const axes: Axis[] = [{ axis: 'temperature', edges: [40], halfWidth: 0 }];
    expect(binAt([[0, {}]], 10, 20, { axes, temperature: 400 })).toBe('temperature 40..');
    expect(binAt([[0, {}]], 10, 20, { axes, temperature: 399 })).toBe('temperature ..40');
    expect(binAt([[0, {}]], 10, 20, { axes })).toBe('temperature ?');
  });

  it('is learning before its edges are in force', () => {
    const lines: Line[] = [[0, { speedRpm: 900 }]];
    const gridFrom = T0 + 100_000;
    expect(binAt(lines, 90, 100, { gridFrom })).toBe('learning');
    expect(binAt(lines, 95, 105, { gridFrom })).toBe('mixed');
    expect(binAt(lines, 100, 110, { gridFrom })).toBe('speed 600..1200');
  });
});

describe('learnt edges', () => {
  function learn(values: readonly [value: number, ms: number][], bins: number) {
    const histogram = emptyHistogram();
    for (const [value, ms] of values) addValue(histogram, value, ms);
    return learnEdges(histogram, bins);
  }

  it('steps are 1, 2, 2.5 and 5 times a power of ten', () => {
    expect([0.3, 1, 1.9, 2.4, 2.5, 7, 100, 4999].map(roundStep)).toEqual([0.25, 1, 1, 2, 2.5, 5, 100, 2500]);
  });

  it('cut an even spread near its quantiles, on round numbers', () => {
    const even = Array.from({ length: 1001 }, (_, i): [number, number] => [600 + i, 1000]);
    const { edges, deadband } = learn(even, 4);
    expect(edges).toHaveLength(3);
    edges.forEach((edge, i) => {
      expect(edge % 100).toBe(0);
      expect(Math.abs(edge - (850 + 250 * i))).toBeLessThanOrEqual(125);
    });
    expect(deadband).toBe(50);
  });

  it('lie between operating points, never on one', () => {
    const { edges } = learn(
      [
        [900, 5000],
        [1200, 5000],
        [1500, 5000],
      ],
      3,
    );
    expect(edges).toHaveLength(2);
    for (const edge of edges) expect([900, 1200, 1500]).not.toContain(edge);
    expect(edges[0]).toBeLessThan(1200);
    expect(edges[1]).toBeGreaterThan(1200);
  });

  it('are none where nothing varies, and nobody said anything', () => {
    expect(learn([[1480, 1e6]], 3).edges).toEqual([]);
    expect(learn([], 3).edges).toEqual([]);
  });

  it('are the same in whatever order the values came, in bounded memory', () => {
    const values = Array.from({ length: 5000 }, (_, i): [number, number] => [((i * 7919) % 5000) / 3, i + 1]);
    const forth = emptyHistogram();
    const back = emptyHistogram();
    for (const [value, ms] of values) addValue(forth, value, ms);
    for (const [value, ms] of [...values].reverse()) addValue(back, value, ms);
    expect(forth.cells.size).toBeLessThanOrEqual(256);
    expect([...forth.cells].sort()).toEqual([...back.cells].sort());
    expect(learnEdges(forth, 5)).toEqual(learnEdges(back, 5));
  });
});
