/** The figures of the alarm system: by hand on small journals, and against a slow second computation on a long one. */
import { describe, expect, it } from 'vitest';
import { BENCHMARKS, judge, type BenchmarkKey } from '../../src/advice/alarm-benchmarks.js';
import type { JournalLine } from '../../src/advice/alarm-histories.js';
import {
  reportPerformance,
  type AlarmFacts,
  type Performance,
  type PerformanceRecord,
} from '../../src/advice/alarm-performance.js';
import { listSiteDays } from '../../src/cli/query/site-days.js';
import { computeBrute, dateOf } from './alarm-brute.js';
import { makeSeason, SEASON, STEP_MS, ZONE } from './alarm-seasons.js';

const HOUR = 3_600_000;
const DAY = 24 * HOUR;
const T = Date.parse('2026-06-01T00:00:00Z');

const raised = (at: number, alarm = 'a.x'): JournalLine => ({ at, alarm, what: 'raised', annunciated: true });
const change = (at: number, what: JournalLine['what'], alarm = 'a.x'): JournalLine => ({
  ...{ at, alarm, what, annunciated: false },
});

function report(
  lines: readonly JournalLine[],
  some: Partial<PerformanceRecord & { from: number; to: number; positions: number }> = {},
): Performance {
  const { from = T, to = T + DAY, positions = 1, known = { from, to }, alarms = [] } = some;
  const ordered = [...lines].sort((a, b) => a.at - b.at);
  const days = listSiteDays(from, to, 'UTC');
  return reportPerformance({ from, to, positions, days }, { lines: ordered, known, alarms });
}

function valueOf({ figures }: Performance, key: BenchmarkKey): number | null {
  return figures.find((figure) => figure.key === key)!.value;
}

describe('what is not known', () => {
  it('of no journal every figure is null, none is zero, and none is judged', () => {
    for (const known of [null, { from: T + 2 * DAY, to: T + 3 * DAY }, { from: T - DAY, to: T }]) {
      const found = report([], { known });
      expect(found).toMatchObject({ covered: null, alarms: null, priorities: null, days: [] });
      expect(found.figures.map(({ value }) => value)).toEqual(Object.keys(BENCHMARKS).map(() => null));
      expect(found.figures.every(({ verdict }) => verdict === null)).toBe(true);
    }
  });

  it('a journal that tells of a quiet time has zeros; what zeros cannot give stays null', () => {
    const found = report([]);
    expect(found.alarms).toBe(0);
    for (const key of ['perTenMinutes', 'perDay', 'dayMost', 'flood', 'stale', 'chattering'] as const)
      expect(valueOf(found, key)).toBe(0);
    for (const key of ['low', 'medium', 'high', 'tenMost', 'late'] as const)
      expect(valueOf(found, key)).toBeNull();
  });

  it('a time that is partly known is judged by that part, and a broken day is in no mean', () => {
    const known = { from: T + 6 * HOUR, to: T + 12 * HOUR };
    const found = report([raised(T + 7 * HOUR)], { known });
    expect(found.covered).toEqual(known);
    expect(valueOf(found, 'perHour')).toBeCloseTo(1 / 6, 12);
    expect(valueOf(found, 'perDay')).toBeNull();
    expect(found.days).toMatchObject([{ date: '2026-06-01', alarms: 1, isWhole: false }]);
  });
});

describe('what counts as an alarm', () => {
  it('only what was announced, and no return, no act and no flood', () => {
    const told: JournalLine[] = (['returned', 'acknowledged', 'flood-began', 'shelved', ''] as const).map(
      (what, i) => ({ at: T + i, alarm: 'a.x', what, annunciated: true }),
    );
    expect(report([...told, change(T + 9, 'raised')]).alarms).toBe(0);
    expect(report([raised(T)]).alarms).toBe(1);
  });

  it('one that comes out of a shelf and still stands, when it does', () => {
    const late = { ...change(T + HOUR, 'shelf-expired'), annunciated: true };
    const lines = [change(T, 'shelved'), change(T + 5, 'raised'), late];
    expect(report(lines).alarms).toBe(1);
    expect(report(lines, { to: T + HOUR, known: { from: T, to: T + DAY } }).alarms).toBe(0);
  });
});

describe('floods', () => {
  const burst = (at: number, count: number): JournalLine[] =>
    Array.from({ length: count }, (_, i) => raised(at + i * 1000, `p-${i}.x`));

  it('begin with the eleventh alarm in ten minutes, and end when fewer than five are left', () => {
    const { floods } = report(burst(T + HOUR, 11));
    // the 7th is 10 min old 606 s after the first: four are left then
    expect(floods).toEqual([{ from: T + HOUR + 10_000, to: T + HOUR + 606_000 }]);
    expect(report(burst(T + HOUR, 10)).floods).toEqual([]);
  });

  it('an alarm exactly ten minutes old does not count any more', () => {
    // the tenth of the burst comes 9 s after its first
    expect(report([raised(T + 9_000), ...burst(T + 600_000, 10)]).floods).toEqual([]);
    expect(report([raised(T + 9_001), ...burst(T + 600_000, 10)]).floods).toHaveLength(1);
  });

  it('two operator positions bear twice as many', () => {
    expect(report(burst(T + HOUR, 20), { positions: 2 }).floods).toEqual([]);
    expect(report(burst(T + HOUR, 21), { positions: 2 }).floods).toHaveLength(1);
  });

  it('one that began before the time asked for is cut, not missed', () => {
    const lines = burst(T - 60_000, 11);
    const { floods, alarms } = report(lines, { known: { from: T - DAY, to: T + DAY } });
    expect([alarms, floods]).toEqual([0, [{ from: T, to: T + 546_000 }]]);
  });
});

describe('nuisances', () => {
  it('stale is what stands for more than a day before the eyes of the operator', () => {
    const from = T;
    const to = T + 3 * DAY;
    const stale = (...lines: JournalLine[]) => report(lines, { from, to });
    expect(stale(raised(T)).stale).toEqual([{ alarm: 'a.x', since: T }]);
    expect(valueOf(stale(raised(T)), 'stale')).toBe(1);
    expect(valueOf(stale(raised(T), change(T + DAY, 'returned')), 'stale')).toBe(0);
    expect(valueOf(stale(raised(T), change(T + DAY + 1, 'returned')), 'stale')).toBe(1);
    expect(stale(raised(T), change(T + HOUR, 'shelved')).stale).toEqual([]);
    const back = [raised(T), change(T + HOUR, 'shelved'), change(T + 2 * DAY, 'shelf-expired')];
    expect(stale(...back).stale).toEqual([{ alarm: 'a.x', since: T }]);
    expect(stale(change(T, 'raised')).stale).toEqual([]);
  });

  it('chattering is three times within less than a minute', () => {
    const times = (...at: number[]) => report(at.map((each) => raised(T + each))).chattering;
    expect(times(0, 30_000, 59_999)).toEqual([{ alarm: 'a.x', count: 3 }]);
    expect(times(0, 30_000, 60_000)).toEqual([]);
    expect(times(0, 59_000, 60_000, 61_000, 500_000)).toEqual([{ alarm: 'a.x', count: 3 }]);
  });

  it('the share of the ten most frequent is not judged on a handful of alarms', () => {
    const many = Array.from({ length: 300 }, (_, i) => raised(T + i * 60_000, `p-${i % 30}.x`));
    expect(valueOf(report(many), 'tenMost')).toBeCloseTo(1 / 3, 12);
    expect(valueOf(report(many.slice(0, 100)), 'tenMost')).toBeNull();
    expect(report(many.slice(0, 100)).frequent).toHaveLength(10);
  });

  it('late is an acknowledgement after the time to respond, or none when it is over', () => {
    const alarms: AlarmFacts[] = [
      { id: 'a.x', priority: 'low', respondMs: HOUR, shelf: null, outOfService: null },
    ];
    const late = (...lines: JournalLine[]) => report(lines, { alarms });
    expect(valueOf(late(raised(T), change(T + HOUR, 'acknowledged')), 'late')).toBe(0);
    expect(valueOf(late(raised(T), change(T + HOUR + 1, 'acknowledged')), 'late')).toBe(1);
    expect(late(raised(T)).late).toEqual([{ alarm: 'a.x', at: T, acknowledgedAt: null, respondMs: HOUR }]);
    expect(valueOf(late(raised(T + DAY - HOUR)), 'late')).toBeNull();
    expect(valueOf(report([raised(T)]), 'late')).toBeNull();
  });
});

describe('published figures', () => {
  it('each names its source; what was not read says so', () => {
    for (const { published } of Object.values(BENCHMARKS))
      if (published !== null) expect(published.source).toMatch(/(were not|neither was) read/);
  });

  it('are met, borne or passed', () => {
    const { published } = BENCHMARKS.perTenMinutes;
    expect([0, 1, 1.5, 2, 2.1].map((value) => judge(value, published))).toEqual(
      'within within manageable manageable beyond'.split(' '),
    );
    expect([judge(null, published), judge(9, BENCHMARKS.low.published), judge(9, null)]).toEqual([
      ...[null, null, null],
    ]);
  });
});

describe('a journal of 100,000 entries over both nights in which the clocks change', () => {
  const { lines, facts } = makeSeason(20_260_329, 80_000);
  const known = { from: lines[0]!.at, to: SEASON.to };
  const days = listSiteDays(SEASON.from, SEASON.to, ZONE);

  it.each([1, 3])('has the figures that a slow second computation finds, for %i positions', (positions) => {
    const found = reportPerformance({ ...SEASON, positions, days }, { lines, known, alarms: facts });
    const brute = computeBrute(lines, SEASON.from, SEASON.to, positions, facts);
    expect(lines.length).toBeGreaterThan(100_000);
    expect(brute.total).toBeGreaterThan(10_000);
    expect(brute.floodSteps).toBeGreaterThan(10);
    const length = SEASON.to - SEASON.from;
    expect(found.alarms).toBe(brute.total);
    expect(valueOf(found, 'perTenMinutes')).toBeCloseTo(brute.total / positions / (length / 600_000), 9);
    expect(valueOf(found, 'perHour')).toBeCloseTo(brute.total / positions / (length / HOUR), 9);
    expect(valueOf(found, 'tenMinutesMost')).toBe(brute.tenMost);
    expect(valueOf(found, 'tenMinutesAbove')).toBe(brute.tenAbove);
    expect(valueOf(found, 'hoursAbove')).toBe(brute.hourAbove);
    expect(valueOf(found, 'flood')).toBeCloseTo((brute.floodSteps * STEP_MS) / length, 12);
    expect(valueOf(found, 'stale')).toBe(brute.staleMost);
    expect(found.stale.map(({ alarm }) => alarm).sort()).toEqual(brute.staleAtEnd.sort());
    const counts = (rows: readonly { alarm: string; count: number }[]) =>
      new Map(rows.map(({ alarm, count }) => [alarm, count]));
    expect(counts(found.chattering)).toEqual(brute.chattering);
    expect(counts(found.fleeting)).toEqual(brute.fleeting);
    const most = [...brute.frequent.values()].sort((a, b) => b - a).slice(0, 10);
    expect(found.frequent.map(({ count }) => count)).toEqual(most);
    expect(valueOf(found, 'tenMost')).toBeCloseTo(most.reduce((sum, n) => sum + n, 0) / brute.total, 12);
    expect(found.late).toHaveLength(brute.late);
    expect(valueOf(found, 'late')).toBe(brute.late / brute.judged);
    expect(brute.chattering.size * brute.fleeting.size * brute.staleMost * brute.late).toBeGreaterThan(0);
    const known80 = found.priorities!.low + found.priorities!.medium + found.priorities!.high;
    expect(known80 + found.priorities!.unknown).toBe(brute.total);
    expect(valueOf(found, 'low')).toBe(found.priorities!.low / known80);
  });

  it('has the days of the calendar, of 23 h and 25 h in those nights, each with its alarms', () => {
    const found = reportPerformance({ ...SEASON, positions: 1, days }, { lines, known, alarms: facts });
    const brute = computeBrute(lines, SEASON.from, SEASON.to, 1, facts);
    const dates = new Set<string>();
    for (let at = SEASON.from; at < SEASON.to; at += HOUR) dates.add(dateOf(at));
    expect(found.days.map(({ date }) => date)).toEqual([...dates]);
    expect(found.days.map(({ date, alarms }) => [date, alarms])).toEqual(
      [...dates].map((date) => [date, brute.days.get(date) ?? 0]),
    );
    const odd = found.days.filter(({ from, to }) => to - from !== DAY);
    expect(odd.map(({ date, from, to }) => [date, (to - from) / HOUR])).toEqual([
      ['2026-03-29', 23],
      ['2026-10-25', 25],
    ]);
    expect(odd.every(({ alarms, isWhole }) => alarms > 0 && isWhole)).toBe(true);
    const whole = [...dates].slice(1, -1).map((date) => brute.days.get(date) ?? 0);
    expect(found.days.filter(({ isWhole }) => isWhole)).toHaveLength(whole.length);
    expect(valueOf(found, 'perDay')).toBeCloseTo(
      whole.reduce((sum, each) => sum + each, 0) / whole.length,
      9,
    );
    expect(valueOf(found, 'dayMost')).toBe(Math.max(...whole));
  });
});

describe('days of the site', () => {
  const lengths = (from: string, to: string, zone: string) =>
    listSiteDays(Date.parse(from), Date.parse(to), zone).map(({ date, from: a, to: b }) => [
      date,
      (b - a) / HOUR,
    ]);

  it.each([
    ['Europe/London', '2026-03-29T12:00:00Z', '2026-03-29T13:00:00Z', [['2026-03-29', 23]]],
    ['Europe/London', '2026-10-25T12:00:00Z', '2026-10-25T13:00:00Z', [['2026-10-25', 25]]],
    ['Asia/Kathmandu', '2026-03-01T18:15:00Z', '2026-03-02T18:15:00Z', [['2026-03-02', 24]]],
    // half an hour; and a midnight that the clock skips
    ['Australia/Lord_Howe', '2026-10-03T14:00:00Z', '2026-10-03T15:00:00Z', [['2026-10-04', 23.5]]],
    ['America/Havana', '2026-03-08T06:00:00Z', '2026-03-08T07:00:00Z', [['2026-03-08', 23]]],
    // a day that was skipped
    [
      'Pacific/Apia',
      '2011-12-29T12:00:00Z',
      '2011-12-30T12:00:00Z',
      [
        ['2011-12-29', 24],
        ['2011-12-31', 24],
      ],
    ],
  ])('%s, %s', (zone, from, to, found) => {
    expect(lengths(from, to, zone)).toEqual(found);
  });
});
