/** What lies under the rate: strips from messages and from classes, folding, marks in pages; and a duty group side by side. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Mark, StripPiece, TimelineQuery, TransientMark } from '../../src/api/charts-reader.js';
import type { Fleet } from '../../src/advice/fleet.js';
import { writeRatio } from '../../src/advice/judgement.js';
import { drawGroup } from '../../src/cli/query/group-picture.js';
import { foldStrip, foldTransients, joinAlike } from '../../src/cli/query/strip-folding.js';
import { answerTimeline } from '../../src/cli/query/timeline.js';
import { openReader, type ReadStore } from '../../src/store/reader.js';
import { writeDrawnStore } from '../support/drawn-store.js';
import { seedRandom } from '../support/seeded-random.js';
import { BEGIN, DAYS, makeAdvicePlant } from './advice-plant.js';

const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;
const FROM = Date.UTC(2026, 2, 2);
const SEASON = 45;
const MESSAGES = 10;
const folder = mkdtempSync(join(tmpdir(), 'tallypost-timeline-'));
let reader: ReadStore;
beforeAll(() => {
  const motors = [{ motor: 'booster-1', factor: 1 }];
  const plant = { motors, from: FROM, days: SEASON, minuteDays: MESSAGES, seed: 5, hasBaseline: false };
  writeDrawnStore(join(folder, 'season'), plant);
  reader = openReader(join(folder, 'season'));
});
afterAll(() => {
  reader.close();
  rmSync(folder, { recursive: true });
});

function ask(query: Partial<TimelineQuery>) {
  return answerTimeline(reader, {
    ...{ motor: 'booster-1', sensors: ['booster-1/de', 'booster-1/nde'], points: 200, limit: 200 },
    ...{ from: FROM, to: FROM + SEASON * DAY_MS, heartbeatMs: null, hasRunState: true, cursor: null },
    ...query,
  });
}

function sumMs(pieces: readonly StripPiece[], state: string): number {
  return pieces.filter((piece) => piece.state === state).reduce((sum, { from, to }) => sum + to - from, 0);
}

describe('the run-state strip', () => {
  it('comes from the messages where they are kept: whole states, modulating or not, end to end', () => {
    const from = FROM + (SEASON - 5) * DAY_MS;
    const { strip, exactFrom } = ask({ from });
    expect(exactFrom).toBe(from);
    for (let i = 1; i < strip.length; i++) expect(strip[i]!.from).toBe(strip[i - 1]!.to);
    expect([strip[0]!.from, strip.at(-1)!.to]).toEqual([from, FROM + SEASON * DAY_MS]);
    const running = strip.filter(({ state }) => state === 'running');
    expect(
      running.every(({ to, from: begin, modulating }) => to - begin === 16 * HOUR_MS - 8_000 && modulating),
    ).toBe(true);
    expect(strip.some(({ state }) => state === 'starting')).toBe(true);
  });

  it('comes from the classes before that, and never claims a stop that nobody told', () => {
    const { strip, exactFrom } = ask({});
    expect(exactFrom).toBeGreaterThan(FROM + (SEASON - MESSAGES - 1) * DAY_MS);
    const early = strip.filter(({ to }) => to <= exactFrom);
    expect(early.every(({ modulating }) => modulating === null)).toBe(true);
    const ms = early.reduce((sum, piece) => sum + (piece.ms?.running ?? 0), 0);
    // of 34 or 35 days six in seven run 16 h, less the hour without readings
    const days = (exactFrom - FROM) / DAY_MS;
    expect(ms / HOUR_MS).toBeGreaterThan((days * 6 * 15) / 7 - 16);
    expect(ms / HOUR_MS).toBeLessThan((days * 6 * 16) / 7 + 16);
    expect(sumMs(strip, 'unknown')).toBe(0);
  });

  it('before the oldest reading nothing is said at all', () => {
    expect(ask({ from: FROM - 100 * DAY_MS, to: FROM - DAY_MS }).strip).toEqual([]);
    expect(ask({ motor: 'booster-9', sensors: [] })).toMatchObject({
      strip: [],
      transients: [],
      marks: [],
      next: null,
    });
  });

  it('folding keeps the time of every state, and the ends', () => {
    const random = seedRandom(4);
    const pieces: StripPiece[] = [];
    for (let i = 0, at = 0; i < 5_000; i++) {
      const to = at + 1 + Math.floor(random() ** 4 * 100_000);
      const state = (['running', 'stopped', 'starting', 'fault', 'unknown'] as const)[
        Math.floor(random() * 5)
      ]!;
      pieces.push({ from: at, to, state, modulating: state === 'running', ms: null });
      at = to;
    }
    const leastMs = pieces.at(-1)!.to / 1000;
    const folded = foldStrip(joinAlike(pieces), leastMs);
    expect(folded.length).toBeLessThan(2_500);
    expect([folded[0]!.from, folded.at(-1)!.to]).toEqual([0, pieces.at(-1)!.to]);
    folded.slice(1).forEach((piece, i) => expect(piece.from).toBe(folded[i]!.to));
    const timeOf = (list: readonly StripPiece[], state: string, key: 'running' | 'unknown'): number =>
      sumMs(list, state) +
      list.reduce((sum, piece) => sum + (piece.state === 'several' ? (piece.ms?.[key] ?? 0) : 0), 0);
    for (const key of ['running', 'unknown'] as const)
      expect(timeOf(folded, key, key)).toBe(sumMs(pieces, key));
  });
});

describe('starts and stops', () => {
  it('each has its kind and what its sensors counted', () => {
    const { transients } = ask({ from: FROM, to: FROM + DAY_MS });
    expect(transients.map(({ kind, transients: count }) => [kind, count])).toEqual([
      ['start', 1],
      ['stop', 1],
    ]);
    expect(transients[0]!.counts.map(({ pulses }) => pulses)).toEqual([80, 40]);
  });

  it('folded ones lose no start, no edge and no pulse', () => {
    const marks: TransientMark[] = Array.from({ length: 3_000 }, (_, i) => ({
      ...{
        from: i * 1_000,
        to: i * 1_000 + 500,
        kind: i % 2 === 0 ? 'start' : 'stop',
        transients: 1,
        edges: 2,
      },
      counts: [{ sensor: i % 3 === 0 ? 'a/de' : 'a/nde', pulses: i, ms: 10 }],
    }));
    const folded = foldTransients(marks, 60_000);
    expect(folded.length).toBeLessThanOrEqual(1_000);
    const total = (list: readonly TransientMark[]) => [
      list.reduce((sum, each) => sum + each.transients, 0),
      list.reduce((sum, each) => sum + each.edges, 0),
      list.flatMap(({ counts }) => counts).reduce((sum, each) => sum + each.pulses, 0),
    ];
    expect(total(folded)).toEqual(total(marks));
  });
});

describe('speed and load', () => {
  it('have least, mean over time and most of each bucket, and nothing where nobody spoke any more', () => {
    const day = FROM + (SEASON - 5) * DAY_MS;
    const { condition } = ask({ from: day, to: day + DAY_MS, points: 24 });
    expect(condition).toMatchObject({ bucketMs: HOUR_MS, isSampled: false });
    const at = (hour: number) => condition.points.find(({ start }) => start === day + hour * HOUR_MS);
    expect(at(10)).toMatchObject({ speedRpm: { min: 1480, mean: 1480, max: 1480 }, loadPct: { mean: 72 } });
    expect(at(20)).toMatchObject({ speedRpm: { mean: 900 } });
    expect(at(3)).toMatchObject({ speedRpm: { max: 0 } });
    const spoken = { from: day, to: day + DAY_MS, points: 24, heartbeatMs: 60_000 };
    expect(ask(spoken).condition.points.find(({ start }) => start === day + 3 * HOUR_MS)).toBeUndefined();
  });
});

describe('marks', () => {
  it('come in order of time, and in pages the same', () => {
    const all = ask({}).marks;
    expect(all.map(({ kind }) => kind)).toEqual(['alarm', 'finding', 'action', 'alarm', 'alarm']);
    for (const limit of [1, 2, 3]) {
      const found: Mark[] = [];
      let cursor: string | null = null;
      do {
        const page = ask({ limit, cursor });
        expect(page.marks.length).toBeLessThanOrEqual(limit);
        found.push(...page.marks);
        cursor = page.next;
      } while (cursor !== null);
      expect(found).toEqual(all);
    }
  });
});

describe('a duty group side by side', () => {
  const plant = makeAdvicePlant();
  const store = openReader(plant.data);
  afterAll(() => {
    store.close();
    rmSync(plant.folder, { recursive: true });
  });
  const member = (motor: string, dutyGroup: string): Fleet[number] => ({
    ...{ motor, dutyGroup, zone: 'hall', positions: ['de'], powerKw: null, frameMm: null },
  });
  const fleet = [
    ...[1, 2, 3, 4, 5, 6, 7, 8].map((n) => member(`pump-${n}`, 'pumps')),
    ...[1, 2, 3, 4].map((n) => member(`fan-${n}`, 'fans')),
    member('mill', 'mill'),
  ];
  const now = BEGIN + 2 * DAYS * DAY_MS;
  const whole = { from: null, to: null, now, deadTimesS: {} };
  const draw = (group: string) => drawGroup(store, { ...whole, fleet, group });

  it('matched rates differ by what the motors differ by, and the odd one has its sentence', () => {
    const { sensors, bins, to } = draw('pumps');
    expect(to).toBe(BEGIN + DAYS * DAY_MS);
    const odd = sensors.filter(({ matched }) => matched?.isOdd);
    expect(odd.map(({ sensor }) => sensor)).toEqual(['pump-3/de']);
    // the sentence, the table and the list for the outage say the same ratio
    const { mean, lower, upper } = odd[0]!.matched!.ratio;
    const said = writeRatio({ ratio: mean, lower, upper }).replace(' (', ' times (');
    expect(odd[0]!.sentence).toContain(
      `pump-3 DE discharges ${said} as often as the middle of its group of 8`,
    );
    expect(sensors.filter(({ sentence }) => sentence !== '').length).toBe(1);
    const middle = sensors.find(({ sensor }) => sensor === 'pump-4/de')!.matched!;
    expect(odd[0]!.matched!.ratio.mean / middle.ratio.mean).toBeGreaterThan(2.4);
    expect(odd[0]!.matched!.rate.mean / middle.rate.mean).toBeCloseTo(
      odd[0]!.matched!.ratio.mean / middle.ratio.mean,
      9,
    );
    expect(bins.map(({ bin }) => bin).sort()).toEqual(['speed ..900', 'speed 900..']);
    for (const { cells } of sensors)
      for (const { rate } of cells) expect(rate.lower < rate.mean && rate.mean < rate.upper).toBe(true);
  });

  it('two halves cannot be told apart, and one alone is no group', () => {
    const fans = draw('fans').sensors;
    expect(fans.map(({ matched }) => [matched!.isTorn, matched!.isOdd])).toEqual(
      new Array(4).fill([true, false]),
    );
    const told = fans.filter(({ sentence }) => sentence !== '');
    expect(told.map(({ sentence }) => sentence.includes('two halves'))).toEqual([true, true]);
    const mill = draw('mill');
    expect(mill.sensors[0]).toMatchObject({ matched: null, sentence: '' });
    expect(mill.positions[0]!.missing).toContain('too small');
    const idle = drawGroup(store, { ...whole, fleet: [member('idle', 'idle')], group: 'idle' });
    expect([idle.bins, idle.to]).toEqual([[], now]);
    expect(() => draw('nowhere')).toThrow('no duty group');
  });
});
