/**
 * The figures of an alarm system's performance: what each is called, and what is published about it. All published figures
 * are "about" so much, for one operator position, and meant to be adopted or changed by the site.
 * None of the standards could be read; what is here was restated by several public texts that name them.
 */

const TABLE =
  'performance table of IEC 62682:2014 and ANSI/ISA-18.2, as public secondary texts restate it; the standards themselves ' +
  'were not read';
const RATES =
  'ANSI/ISA-18.2 clause 16.4.2 and IEC 62682:2014, as public secondary texts restate them; the standards themselves were ' +
  'not read';
const RATES_BY_DAY =
  'about 144 and 288 a day in IEC 62682:2014, about 150 and 300 in ANSI/ISA-18.2-2009; said to be left out of the edition of ' +
  '2016. By secondary texts; the standards themselves were not read';
const PRIORITIES =
  'EEMUA 191 and ANSI/ISA-18.2 for three priorities, as public secondary texts restate them; neither was read';

export interface Published {
  /** in words, beside the figure */
  readonly says: string;
  /** up to which the figure is very likely to be acceptable; null: nothing of the kind is published */
  readonly acceptable: number | null;
  /** up to which it can be managed at all; null: no such second figure */
  readonly most: number | null;
  readonly source: string;
}

export interface Benchmark {
  readonly name: string;
  readonly title: string;
  readonly unit: string;
  /** null: we know of no published figure */
  readonly published: Published | null;
}

const upTo = (says: string, acceptable: number, most: number | null, source = TABLE): Published => ({
  ...{ says, acceptable, most, source },
});
const about = (says: string): Published => ({ says, acceptable: null, most: null, source: PRIORITIES });

const perPosition = 'alarms per position';

/** In the order in which they are shown. Shares from 0 to 1. */
export const BENCHMARKS = {
  perTenMinutes: {
    ...{ name: 'per-10-min-mean', title: 'in 10 min, mean', unit: perPosition },
    published: upTo('about 1, at most about 2', 1, 2, RATES),
  },
  tenMinutesMost: {
    ...{ name: 'per-10-min-most', title: 'in 10 min, most', unit: perPosition },
    published: upTo('at most 10', 10, null),
  },
  tenMinutesAbove: {
    ...{ name: '10-min-above-10', title: '10 min with more than 10', unit: 'share' },
    published: upTo(
      'less than about 1 %',
      0.01,
      null,
      `${TABLE}; one of them counts 10 min with more than 5 instead`,
    ),
  },
  perHour: {
    ...{ name: 'per-hour-mean', title: 'in an hour, mean', unit: perPosition },
    published: upTo('about 6, at most about 12', 6, 12, RATES),
  },
  hoursAbove: {
    ...{ name: 'hours-above-30', title: 'hours with more than 30', unit: 'share' },
    published: upTo('less than about 1 %', 0.01, null),
  },
  perDay: {
    ...{ name: 'per-day-mean', title: 'in a day, mean', unit: perPosition },
    published: upTo('about 144 to 150, at most about 288 to 300', 150, 300, RATES_BY_DAY),
  },
  dayMost: { ...{ name: 'per-day-most', title: 'in a day, most', unit: perPosition }, published: null },
  flood: {
    ...{ name: 'time-in-flood', title: 'time in flood', unit: 'share' },
    published: upTo('less than about 1 %', 0.01, null),
  },
  tenMost: {
    ...{ name: 'ten-most-frequent', title: 'share of the ten most frequent', unit: 'share' },
    published: upTo('about 1 to 5 %', 0.05, null),
  },
  chattering: {
    ...{ name: 'chattering', title: 'chattering (3 in a minute)', unit: 'alarms' },
    published: upTo('none', 0, null),
  },
  fleeting: {
    ...{ name: 'fleeting', title: 'fleeting (gone within 1 min)', unit: 'alarms' },
    published: upTo('none; that a minute is the bound is our choice', 0, null),
  },
  stale: {
    ...{ name: 'stale-most', title: 'stale (over 24 h), most at once', unit: 'alarms' },
    published: upTo('fewer than 5 on any day', 4, null),
  },
  low: {
    ...{ name: 'priority-low', title: 'priority low', unit: 'share' },
    published: about('about 80 %'),
  },
  medium: {
    ...{ name: 'priority-medium', title: 'priority medium', unit: 'share' },
    published: about('about 15 %'),
  },
  high: {
    ...{ name: 'priority-high', title: 'priority high', unit: 'share' },
    published: about('about 5 %'),
  },
  late: {
    ...{ name: 'late-acknowledged', title: 'acknowledged too late or not', unit: 'share' },
    published: null,
  },
} as const satisfies Readonly<Record<string, Benchmark>>;

export type BenchmarkKey = keyof typeof BENCHMARKS;

/** `within`: very likely to be acceptable; `manageable`: not beyond what can be managed; null: not judged. */
export type Verdict = 'within' | 'manageable' | 'beyond' | null;

/** `value` null: nothing is known, so nothing is judged. */
export function judge(value: number | null, published: Published | null): Verdict {
  if (value === null || published === null || published.acceptable === null) return null;
  if (value <= published.acceptable) return 'within';
  return published.most !== null && value <= published.most ? 'manageable' : 'beyond';
}
