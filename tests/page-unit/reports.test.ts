/** Spans of reports on the site's clock, tables to keep, and the words of wiring, without a browser. */
import { describe, expect, it } from 'vitest';
import { writeCsv } from '../../src/page/reports/csv.js';
import { mapFew } from '../../src/page/data/map-few.js';
import { rateOfSpan } from '../../src/page/reports/rate-words.js';
import {
  readSpan,
  SPAN_MOST_MS,
  spanOf,
  toLocalField,
  typedSpan,
} from '../../src/page/reports/report-span.js';
import { formatBytes, formatPerSecond, formatShare } from '../../src/page/gateway/byte-words.js';
import { countChains, LINK_ORDER, listBreaks } from '../../src/page/wiring/chain-words.js';
import type { CountBody } from '../../shared/counts.js';
import type { SeriesBody } from '../../shared/charts.js';
import type { ChainLink, SensorChain } from '../../src/page/data/station-bodies.js';

const HOUR_MS = 3_600_000;
const LONDON = 'Europe/London';
const NOW = Date.parse('2026-11-26T12:00:00Z');
const iso = (ms: number): string => new Date(ms).toISOString();
const told = ({ from, to }: { from: number; to: number }): string => `${iso(from)} ${iso(to)}`;

describe('the span of a report', () => {
  it('is the last whole week of the site, an hour longer where the clocks go back', () => {
    // Wednesday after the night of 25 October 2026
    const span = spanOf('last-week', Date.parse('2026-10-28T09:00:00Z'), LONDON);
    expect(told(span)).toBe('2026-10-18T23:00:00.000Z 2026-10-26T00:00:00.000Z');
    expect(span.to - span.from).toBe(169 * HOUR_MS);
  });

  it('is yesterday as the site has it, also in a zone at +05:45 and on a day of 23 hours', () => {
    const day = spanOf('yesterday', Date.parse('2026-03-02T20:00:00Z'), 'Asia/Kathmandu');
    expect(told(day)).toBe('2026-03-01T18:15:00.000Z 2026-03-02T18:15:00.000Z');
    const short = spanOf('yesterday', Date.parse('2026-03-30T09:00:00Z'), LONDON);
    expect(short.to - short.from).toBe(23 * HOUR_MS);
  });

  it.each([
    ['2026-03-03T13:59:59Z', '2026-03-02T22:00:00.000Z 2026-03-03T06:00:00.000Z'],
    ['2026-03-03T14:00:00Z', '2026-03-03T06:00:00.000Z 2026-03-03T14:00:00.000Z'],
    ['2026-03-03T23:10:00Z', '2026-03-03T14:00:00.000Z 2026-03-03T22:00:00.000Z'],
    ['2026-03-03T00:10:00Z', '2026-03-02T14:00:00.000Z 2026-03-02T22:00:00.000Z'],
  ])('is at %s the shift that ended last', (now, expected) => {
    expect(told(spanOf('shift', Date.parse(now), LONDON))).toBe(expected);
  });

  it('counts the shift through the night in which the clocks go forward with its seven hours', () => {
    const span = spanOf('shift', Date.parse('2026-03-29T08:00:00Z'), LONDON);
    expect(told(span)).toBe('2026-03-28T22:00:00.000Z 2026-03-29T05:00:00.000Z');
  });

  it('that was typed is read on the clock of the site, and shown again as it was typed', () => {
    const span = typedSpan('2026-07-01T06:00', '2026-07-01T14:00', LONDON, NOW)!;
    expect(told(span)).toBe('2026-07-01T05:00:00.000Z 2026-07-01T13:00:00.000Z');
    expect(toLocalField(span.from, LONDON)).toBe('2026-07-01T06:00');
  });

  it('holds both hours that the clock shows twice, as far as they are over', () => {
    const type = (from: string, to: string, zone: string, now = NOW): string =>
      told(typedSpan(`2026-${from}`, `2026-${to}`, zone, now)!);
    const twice = type('10-25T01:00', '10-25T01:30', LONDON);
    expect(twice).toBe('2026-10-25T00:00:00.000Z 2026-10-25T01:30:00.000Z');
    const isFirst = Date.parse('2026-10-25T00:40:00Z');
    const soFar = type('10-24T12:00', '10-25T01:30', LONDON, isFirst);
    expect(soFar).toBe('2026-10-24T11:00:00.000Z 2026-10-25T00:30:00.000Z');
    // half an hour goes back on Lord Howe
    const half = type('04-05T01:30', '04-05T01:45', 'Australia/Lord_Howe');
    expect(half).toBe('2026-04-04T14:30:00.000Z 2026-04-04T15:15:00.000Z');
  });

  it('is refused when it is empty, backwards, unreadable or longer than a year', () => {
    expect(typedSpan('2026-07-01T06:00', '2026-07-01T06:00', LONDON, NOW)).toBeNull();
    expect(typedSpan('', '2026-07-01T06:00', LONDON, NOW)).toBeNull();
    expect(readSpan('5', '4')).toBeNull();
    expect(readSpan('x', '4')).toBeNull();
    expect(readSpan(null, '4')).toBeNull();
    expect(readSpan('0', String(SPAN_MOST_MS + 1))).toBeNull();
    expect(readSpan('0', String(SPAN_MOST_MS))).toEqual({ from: 0, to: SPAN_MOST_MS });
  });
});

describe('a table to keep', () => {
  it('has a header, CRLF, quotes where they are needed, nothing for null, and no formulas', () => {
    const text = writeCsv({
      columns: ['a', 'b'],
      rows: [
        [null, 0],
        ['x,"y"', true],
        ['=1+1', 'two\nlines'],
      ],
    });
    expect(text).toBe('a,b\r\n,0\r\n"x,""y""",true\r\n\'=1+1,"two\nlines"\r\n');
  });
});

describe('the rate of a span', () => {
  const hours = { running_pulses: 60, running_ms: 600_000 } as NonNullable<SeriesBody['hours']>;
  const count = (ms: number): CountBody =>
    ({
      classes: { running: { pulses: 61, ms } },
      ...{ rate_per_min: 6.1, lower_per_min: 5, upper_per_min: 7 },
    }) as CountBody;

  it('comes with limits from the count, while increments of it are kept', () => {
    expect(rateOfSpan({ hours, total: null }, count(600_000))).toEqual({
      ...{ pulses: 61, ms: 600_000, rate: 6.1, lower: 5, upper: 7, hasLimits: true, days: null },
    });
  });

  it('comes with limits from its days when the count holds a part of it only', () => {
    const days = { running_pulses: 59, running_ms: 590_000, days: 30, quality: 'good' as const };
    const total = { ...days, mean_per_min: 6, lower_per_min: 4, upper_per_min: 9 };
    expect(rateOfSpan({ hours, total }, count(300_000))).toEqual({
      ...{ pulses: 60, ms: 600_000, rate: 6, lower: 4, upper: 9, hasLimits: true, days: 30 },
    });
  });

  it('has no limits where neither says anything', () => {
    expect(rateOfSpan({ hours, total: null }, null)).toEqual({
      ...{ pulses: 60, ms: 600_000, rate: 6, lower: null, upper: null, hasLimits: false, days: null },
    });
    expect(rateOfSpan({ hours: null, total: null }, null).rate).toBeNull();
  });
});

it('requests go a few at a time, and answers keep their order', async () => {
  let open = 0;
  let most = 0;
  const answers = await mapFew([30, 1, 20, 2, 10], 2, async (ms) => {
    most = Math.max(most, ++open);
    await new Promise((resolve) => setTimeout(resolve, ms));
    open -= 1;
    return ms * 2;
  });
  expect(answers).toEqual([60, 2, 40, 4, 20]);
  expect(most).toBe(2);
});

describe('the words of the gateway view', () => {
  it('sizes, rates and shares', () => {
    expect([0, 999, 1_000, 13_123_000, 271e9, null].map(formatBytes)).toEqual([
      ...['0 B', '999 B', '1.0 kB', '13.1 MB', '271 GB', 'not known'],
    ]);
    expect([null, 0, 5.31, 1234.5].map(formatPerSecond)).toEqual([
      ...['not known yet', '0 a second', '5.3 a second', '1235 a second'],
    ]);
    expect(formatShare(1, 3)).toBe('33.3 %');
    expect(formatShare(1, 0)).toBeNull();
  });
});

describe('chains', () => {
  const link = (name: ChainLink['link'], state: ChainLink['state'], says: string): ChainLink => ({
    ...{ link: name, state, at: null, fault_at: null, fault: '', says, todo: says === '' ? '' : 'mend it' },
  });
  const chain = (sensor: string, broken: ChainLink['link'] | null, says: string): SensorChain => ({
    ...{ sensor, motor: sensor.split('/')[0]!, position: 'de', device: null, broken },
    chain: LINK_ORDER.map((name) =>
      link(name, name === broken ? 'fault' : 'ok', name === broken ? says : ''),
    ),
  });

  it('that break at the same link for the same reason are told once', () => {
    const chains = [
      chain('a/de', 'run-state', 'its drive is silent'),
      chain('b/de', 'seen', 'nothing came'),
      chain('c/de', 'run-state', 'its drive is silent'),
      chain('d/de', null, ''),
    ];
    expect(listBreaks(chains).map(({ link: name, sensors }) => [name, sensors])).toEqual([
      ['run-state', ['a/de', 'c/de']],
      ['seen', ['b/de']],
    ]);
    expect(countChains(chains)).toEqual({ held: 1, broken: 3, open: 0 });
  });

  it('hold without a receiver, and are open while a link is not known', () => {
    const [held] = [chain('a/de', null, '')];
    const swap = (name: ChainLink['link']): SensorChain => ({
      ...held,
      chain: held.chain.map((each) => (each.link === name ? { ...each, state: 'unknown' } : each)),
    });
    expect(countChains([swap('forwarded'), swap('plausible')])).toEqual({ held: 1, broken: 0, open: 1 });
  });
});
