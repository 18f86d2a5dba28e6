/** Reduced series against the same sums done by hand on random rollups, and over the stored year of a pump. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { SeriesQuery } from '../../src/api/charts-reader.js';
import { answerSeries } from '../../src/cli/query/series.js';
import { chooseSpan } from '../../src/cli/query/series-span.js';
import { poissonLimits } from '../../src/stats/poisson.js';
import { openDatabase } from '../../src/store/open.js';
import { openReader, type ReadStore } from '../../src/store/reader.js';
import { FAST_PER_MIN, SLOW_PER_MIN, writeDrawnStore } from '../support/drawn-store.js';
import { seedRandom } from '../support/seeded-random.js';

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;
const FROM = Date.UTC(2026, 2, 2);
const folder = mkdtempSync(join(tmpdir(), 'tallypost-series-'));
afterAll(() => rmSync(folder, { recursive: true }));

interface MinuteRow {
  readonly start: number;
  readonly p: number[];
  readonly m: number[];
}

/** Minutes with random classes and random holes, and the longer rollups of those hours and ten minutes that are over. */
function writeRandomStore(dir: string, seed: number, minutes: number): MinuteRow[] {
  const random = seedRandom(seed);
  const rows: MinuteRow[] = [];
  for (let i = 0; i < minutes; i++) {
    if (random() < 0.1) continue;
    const p = Array.from({ length: 7 }, () => (random() < 0.5 ? 0 : Math.floor(random() * 50)));
    const m = p.map((pulses) => (pulses > 0 || random() < 0.2 ? 10_000 * (1 + Math.floor(random() * 6)) : 0));
    rows.push({ start: FROM + i * MINUTE_MS, p, m });
  }
  const opened = openDatabase(dir);
  const insert = (table: string, start: number, of: readonly MinuteRow[]): void => {
    const sums = (take: (row: MinuteRow) => number[]): number[] =>
      [0, 1, 2, 3, 4, 5, 6].map((c) => of.reduce((sum, row) => sum + take(row)[c]!, 0));
    if (of.length === 0) return;
    opened.db
      .prepare(`INSERT INTO ${table} VALUES (100, ?, 0, ${new Array(15).fill('?').join(', ')})`)
      .run(start, ...sums(({ p }) => p), ...sums(({ m }) => m), 0);
  };
  opened.db.exec(`INSERT INTO name (id, text) VALUES (100, 'a/de')`);
  const end = FROM + minutes * MINUTE_MS;
  opened.db.transaction(() => {
    for (const row of rows) insert('rollup_1m', row.start, [row]);
    for (const [table, ms] of [
      ['rollup_10m', 10 * MINUTE_MS],
      ['rollup_1h', HOUR_MS],
    ] as const) {
      for (let start = FROM; start + ms <= end; start += ms)
        insert(
          table,
          start,
          rows.filter((row) => row.start >= start && row.start < start + ms),
        );
    }
  })();
  opened.close();
  return rows;
}

function ask(reader: ReadStore, query: Partial<SeriesQuery> & { from: number; to: number }) {
  return answerSeries(reader, {
    sensor: 'a/de',
    points: 1000,
    deadTimeS: 0,
    hasRunState: true,
    hasTotal: false,
    ...query,
  });
}

describe('a reduced series', () => {
  it.each([1, 2, 3, 4, 5, 6, 7, 8])(
    'has the sums of the minutes inside, whatever it was read from (seed %i)',
    (seed) => {
      const dir = join(folder, `random-${seed}`);
      const random = seedRandom(1000 + seed);
      const minutes = 300 + Math.floor(random() * 3000);
      const rows = writeRandomStore(dir, seed, minutes);
      const reader = openReader(dir);
      for (let round = 0; round < 12; round++) {
        const from = FROM + Math.floor(random() * minutes) * MINUTE_MS - 1234;
        const to = from + Math.ceil(random() * minutes) * MINUTE_MS + 777;
        const points = 10 + Math.floor(random() * 400);
        const series = ask(reader, { from, to, points });
        expect(series.points.length).toBeLessThanOrEqual(points);
        expect(series.from % series.bucketMs).toBe(0);
        expect(series.from).toBeLessThanOrEqual(from);
        expect(series.to).toBeGreaterThanOrEqual(to);
        const inside = rows.filter((row) => row.start >= series.from && row.start < series.to);
        const found = series.points.reduce((sum, point) => sum + point.pulses, 0);
        expect(found).toBe(inside.reduce((sum, { p }) => sum + p[5]!, 0));
        for (const point of series.points) {
          const own = inside.filter((row) => row.start >= point.start && row.start < point.end);
          const sum = (take: (row: MinuteRow) => number): number =>
            own.reduce((total, row) => total + take(row), 0);
          expect([point.start, point.pulses, point.ms]).toEqual([
            point.start,
            sum(({ p }) => p[5]!),
            sum(({ m }) => m[5]!),
          ]);
          for (const c of [1, 2, 3, 4, 5, 7]) {
            expect(point.classMs[c]).toBe(sum(({ m }) => m[c - 1]!));
            expect(point.classPulses[c]).toBe(sum(({ p }) => p[c - 1]!));
          }
          if (point.ms === 0) {
            expect([point.mean, point.least, point.most, point.lower, point.upper]).toEqual(
              new Array(5).fill(null),
            );
            continue;
          }
          expect(point.mean).toBeCloseTo((MINUTE_MS * point.pulses) / point.ms, 9);
          expect(point.least!).toBeLessThanOrEqual(point.mean! + 1e-9);
          expect(point.most!).toBeGreaterThanOrEqual(point.mean! - 1e-9);
          if (series.period === '1m') {
            const rates = own.filter(({ m }) => m[5]! > 0).map(({ p, m }) => (MINUTE_MS * p[5]!) / m[5]!);
            expect(point.least).toBeCloseTo(Math.min(...rates), 9);
            expect(point.most).toBeCloseTo(Math.max(...rates), 9);
          }
        }
      }
      reader.close();
    },
  );

  it.each([11, 12, 13])('has the sums of the whole hours of its span, not of its steps (seed %i)', (seed) => {
    const dir = join(folder, `hours-${seed}`);
    const random = seedRandom(2000 + seed);
    const rows = writeRandomStore(dir, seed, 60 * 60);
    const reader = openReader(dir);
    for (let round = 0; round < 10; round++) {
      const from = FROM + Math.floor(random() * 1_500) * MINUTE_MS;
      const to = from + Math.ceil(random() * 2_000) * MINUTE_MS;
      const { hours, total } = ask(reader, { from, to, points: 10, hasTotal: true });
      expect([hours!.from, hours!.to]).toEqual([
        Math.floor(from / HOUR_MS) * HOUR_MS,
        Math.ceil(to / HOUR_MS) * HOUR_MS,
      ]);
      const inside = rows.filter(({ start }) => start >= hours!.from && start < hours!.to);
      for (const c of [1, 2, 3, 4, 5, 6, 7]) {
        expect(hours!.classPulses[c]).toBe(inside.reduce((sum, { p }) => sum + p[c - 1]!, 0));
        expect(hours!.classMs[c]).toBe(inside.reduce((sum, { m }) => sum + m[c - 1]!, 0));
      }
      expect(total).toMatchObject({ pulses: hours!.classPulses[6], ms: hours!.classMs[6] });
    }
    reader.close();
  });

  it('a gap is points without exposure, in order, none left out', () => {
    const dir = join(folder, 'gap');
    writeRandomStore(dir, 9, 30);
    const opened = openDatabase(dir);
    opened.db
      .exec(`DELETE FROM rollup_1m WHERE start >= ${FROM + 10 * MINUTE_MS} AND start < ${FROM + 20 * MINUTE_MS};
      DELETE FROM rollup_10m`);
    opened.close();
    const reader = openReader(dir);
    const { points, bucketMs } = ask(reader, { from: FROM, to: FROM + 30 * MINUTE_MS, points: 31 });
    expect(bucketMs).toBe(MINUTE_MS);
    points.forEach((point, i) => expect(point.start).toBe(points[0]!.start + i * bucketMs));
    const hole = points.filter(
      ({ start }) => start >= FROM + 10 * MINUTE_MS && start < FROM + 20 * MINUTE_MS,
    );
    expect(hole.length).toBe(10);
    for (const point of hole) expect([point.mean, point.ms, point.quality]).toEqual([null, 0, 'bad']);
    reader.close();
  });
});

describe('the span of a series', () => {
  const all = { '10s': FROM, '1m': FROM, '10m': FROM, '1h': FROM };

  it('takes the finest rollups that are few enough', () => {
    const newest = FROM + 400 * DAY_MS;
    const choose = (days: number, points: number) => {
      const { bucketMs, period } = chooseSpan(
        { from: newest - days * DAY_MS, to: newest, points },
        all,
        newest,
      );
      return [bucketMs / MINUTE_MS, period];
    };
    expect(choose(1 / 24, 1000)).toEqual([1 / 6, '10s']);
    expect(choose(1, 1000)).toEqual([2, '10s']);
    expect(choose(7, 1000)).toEqual([20, '1m']);
    expect(choose(365, 1000)).toEqual([720, '10m']);
    expect(choose(365, 4000)).toEqual([180, '10m']);
  });

  it('goes to longer rollups where the short ones are no longer kept, and to longer buckets if it must', () => {
    const newest = FROM + 400 * DAY_MS;
    const kept = { ...all, '10s': newest - DAY_MS, '1m': newest - 30 * DAY_MS };
    const hour = { from: FROM + DAY_MS, to: FROM + DAY_MS + HOUR_MS, points: 1000 };
    expect(chooseSpan(hour, kept, newest)).toMatchObject({ bucketMs: 10 * MINUTE_MS, period: '10m' });
    const late = { from: newest - 2 * DAY_MS, to: newest - 2 * DAY_MS + HOUR_MS, points: 1000 };
    expect(chooseSpan(late, kept, newest)).toMatchObject({ bucketMs: MINUTE_MS, period: '1m' });
  });
});

describe('a season of a pump', () => {
  const dir = join(folder, 'season');
  const days = 45;
  const to = FROM + days * DAY_MS;
  let reader: ReadStore;
  beforeAll(() => {
    const motors = [{ motor: 'booster-1', factor: 1 }];
    writeDrawnStore(dir, { motors, from: FROM, days, minuteDays: 5, seed: 5, hasBaseline: true });
    reader = openReader(dir);
  });
  afterAll(() => reader.close());
  const season = (query: Partial<SeriesQuery> = {}) =>
    ask(reader, { sensor: 'booster-1/de', from: FROM, to, ...query });

  it('has the true rate within its limits, and a baseline that follows the conditions', () => {
    const { points, bucketMs } = season({ points: 45 * 24 + 1 });
    expect(bucketMs).toBe(HOUR_MS);
    const fast = points.filter(({ baseline }) => baseline !== null && Math.abs(baseline - FAST_PER_MIN) < 1);
    const slow = points.filter(({ baseline }) => baseline !== null && Math.abs(baseline - SLOW_PER_MIN) < 1);
    expect(fast.length).toBeGreaterThan(300);
    expect(slow.length).toBeGreaterThan(100);
    for (const [list, rate] of [
      [fast, FAST_PER_MIN],
      [slow, SLOW_PER_MIN],
    ] as const) {
      const holding = list.filter(({ lower, upper }) => lower! <= rate && rate <= upper!);
      expect(holding.length / list.length).toBeGreaterThan(0.9);
    }
  });

  it('the limits are those of the statistics, with the dispersion that is told', () => {
    for (const point of season({ points: 200 }).points) {
      if (point.mean === null) continue;
      const { lower, upper } = poissonLimits(point.pulses, 0.95, point.dispersion);
      expect(point.lower).toBeCloseTo((lower * MINUTE_MS) / point.ms, 9);
      expect(point.upper).toBeCloseTo((upper * MINUTE_MS) / point.ms, 9);
      expect(point.dispersion).toBeGreaterThanOrEqual(1);
    }
  });

  it('dead time lifts rate, extremes, limits and baseline alike', () => {
    const plain = season({ points: 60 }).points;
    const lifted = season({ points: 60, deadTimeS: 0.01 }).points;
    plain.forEach((point, i) => {
      const other = lifted[i]!;
      for (const key of ['mean', 'least', 'most', 'lower', 'upper', 'baseline'] as const) {
        const value = point[key];
        if (value === null) expect(other[key]).toBe(null);
        else expect(other[key]).toBeCloseTo(value / (1 - (value / 60) * 0.01), 9);
      }
    });
  });

  it('one minute of discharges is the highest of its month, as far back as minutes are kept', () => {
    const burst = to - 3 * DAY_MS + 12 * HOUR_MS;
    const opened = openDatabase(dir);
    for (const [table, ms] of Object.entries({ rollup_1m: 1, rollup_10m: 10, rollup_1h: 60 }))
      opened.db
        .prepare(
          `UPDATE ${table} SET p6 = p6 + 9000 WHERE sensor = (SELECT id FROM name WHERE text = ?) AND start = ?`,
        )
        .run('booster-1/nde', burst - (burst % (ms * MINUTE_MS)));
    opened.close();
    for (const points of [50, 100, 400, 1_000, 4_000]) {
      const found = season({ sensor: 'booster-1/nde', points });
      expect(found.period).not.toBe('1m');
      const highest = found.points.reduce((a, b) => ((b.most ?? 0) > (a.most ?? 0) ? b : a));
      expect(highest.start <= burst && burst < highest.end).toBe(true);
      expect(highest.most).toBeGreaterThan(9_000);
      // before minutes are kept, of ten of them
      const early = found.points.filter(({ end }) => end <= to - 5 * DAY_MS).map(({ most }) => most ?? 0);
      expect(Math.max(...early)).toBeLessThan(FAST_PER_MIN);
    }
  });

  it('a motor without run-state signal is uncertain throughout, and a sensor without counts has no points', () => {
    const { points } = season({ hasRunState: false });
    expect(new Set(points.map(({ quality }) => quality))).toEqual(new Set(['bad', 'uncertain']));
    expect(ask(reader, { sensor: 'booster-9/de', from: FROM, to }).points).toEqual([]);
  });
});
