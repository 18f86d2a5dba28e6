/** Pictures of the gateway in memory: one of everything, and what is asked is kept. */
import { Class } from '../../src/core/words.js';
import type { ChartsReader, GroupQuery, SeriesQuery, TimelineQuery } from '../../src/api/charts-reader.js';
import { tellBaseline } from '../../src/advice/baseline.js';
import { done, found, NOW } from './fake-entries.js';

export interface FakeCharts extends ChartsReader {
  readonly asked: (SeriesQuery | TimelineQuery | GroupQuery)[];
}

const HOUR_MS = 3_600_000;
const START = NOW - (NOW % HOUR_MS) - 2 * HOUR_MS;

const points = [
  {
    ...{ start: START, end: START + HOUR_MS, pulses: 90, ms: 60_000, mean: 90, least: 60, most: 120 },
    ...{ lower: 72, upper: Infinity, dispersion: 1.5, quality: 'good' as const, baseline: 45 },
    ...{ classPulses: [0, 0, 0, 0, 7, 0, 90, 0, 0], classMs: [0, 0, 0, 0, 9_000, 0, 60_000, 0, 0] },
  },
  {
    ...{ start: START + HOUR_MS, end: START + 2 * HOUR_MS, pulses: 0, ms: 0, mean: null, least: null },
    ...{ most: null, lower: null, upper: null, dispersion: 1, quality: 'bad' as const, baseline: null },
    ...{ classPulses: [0, 0, 0, 0, 0, 0, 0, 2, 0], classMs: [0, 0, 0, 0, 0, 0, 0, HOUR_MS, 0] },
  },
];

const pieces = [
  {
    ...{ start: START, end: START + HOUR_MS, pulses: 90, ms: 60_000, mean: 90, lower: 72, upper: Infinity },
    ...{ dispersion: 1.5, quality: 'good' as const },
  },
];

const total = { pulses: 60, ms: HOUR_MS, mean: 1, lower: 0.5, upper: Infinity, days: 1, isUncertain: true };

/** an hour of running, and 9 s of starting */
const classesOf = (running: number, transient: number): number[] =>
  Array.from({ length: 8 }, (_, place) =>
    place === Class.running ? running : place === Class.transient ? transient : 0,
  );
const hours = {
  ...{ from: START, to: START + 2 * HOUR_MS },
  ...{ classPulses: classesOf(60, 4), classMs: classesOf(HOUR_MS, 9_000) },
};

export function makeFakeCharts(): FakeCharts {
  const asked: FakeCharts['asked'] = [];
  return {
    asked,
    series(query) {
      asked.push(query);
      const { sensor } = query;
      const span = { from: START, to: START + 2 * HOUR_MS, period: '1m' as const, bucketMs: HOUR_MS };
      return Promise.resolve({
        sensor,
        ...span,
        baseline: tellBaseline(sensor, null, []),
        points,
        ...{ pieceMs: HOUR_MS, pieces },
        total: query.hasTotal ? total : null,
        hours: query.hasTotal ? hours : null,
      });
    },
    timeline(query) {
      asked.push(query);
      const alarm = { id: 4, at: NOW, alarm: 'pump-1.de-rate-high', what: 'raised', text: 'raised' };
      const reach = { min: 1, mean: 2, max: 3 };
      const known = { speedRpm: reach, loadPct: null };
      return Promise.resolve({
        strip: [{ from: START, to: NOW, state: 'running', modulating: true, ms: null }],
        exactFrom: START,
        transients: [{ from: START, to: START + 9_000, kind: 'start', transients: 1, edges: 2, counts: [] }],
        condition: {
          bucketMs: HOUR_MS,
          isSampled: false,
          points: [{ start: START, end: START + HOUR_MS, ...known }],
        },
        marks: [
          { kind: 'action', row: done },
          { kind: 'finding', row: found },
          { kind: 'alarm', row: { ...alarm, hasEvidence: true } },
        ],
        next: null,
      });
    },
    group(query) {
      asked.push(query);
      const rate = { mean: 6, lower: 5, upper: Infinity };
      const verdict = { pulses: 90, ms: HOUR_MS, p: 0.0001, motors: 4, isOdd: true, isTorn: false };
      return Promise.resolve({
        ...{ group: query.group, from: START, to: NOW },
        bins: [{ bin: 'all', unlike: null, motors: 4, ms: HOUR_MS }],
        sensors: [
          {
            ...{ sensor: 'pump-1/de', from: START, to: NOW, sentence: 'It is the odd one.' },
            cells: [{ bin: 'all', pulses: 90, ms: HOUR_MS, dispersion: 1.5, rate }],
            matched: { rate, ratio: rate, ...verdict },
          },
        ],
        positions: [{ position: 'de', missing: '' }],
      });
    },
  };
}
