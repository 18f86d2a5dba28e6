/**
 * What pictures are drawn from, as it is told over HTTP: series of a rate, the bands under it, and duty groups side by side.
 * Times are RFC 3339 with milliseconds and Z. Null means not known, never zero. Rates are pulses per minute of running
 * exposure, corrected for dead time.
 */
import { z } from 'zod';
import { ALARM_KINDS, ALARM_PRIORITIES, JOURNAL_CHANGES } from './alarm-terms.js';
import { LEDGER_CLASS_NAMES, QUALITIES, TOLD_RUN_STATES } from './ledger-terms.js';
import { actionSchema, findingSchema } from './maintenance.js';
import { utcSchema } from './time.js';
import { PERIODS } from './topics.js';
import { POINTS_LEAST } from './limits.js';

/** Most buckets of a series, and of speed and load. */
export const POINTS_MOST = 4_000;
export { POINTS_LEAST };
export const POINTS_DEFAULT = 1_000;
/** Longest span of a picture: a hundred years. */
export const SPAN_MOST_MS = 36_525 * 86_400_000;

const count = z.int().min(0);
const rate = z.number().min(0).nullable();
const utcOrNull = utcSchema.nullable();

const byClass = (what: string) =>
  z
    .partialRecord(z.enum(LEDGER_CLASS_NAMES), count)
    .describe(`${what} of each class but running; absent: none`);

export const seriesPointSchema = z.object({
  start: utcSchema,
  end: utcSchema,
  running_pulses: count,
  running_ms: count.describe('running exposure; 0: there is no rate, which is not a rate of zero'),
  mean_per_min: rate.describe('null: no running exposure'),
  min_per_min: rate.describe(
    'lowest rate of the minutes inside, or of their windows; of longer rollups where no minutes are kept',
  ),
  max_per_min: rate.describe('highest rate, likewise'),
  lower_per_min: rate.describe('lower limit of the mean, 95 %'),
  upper_per_min: rate.describe('upper limit of the mean, 95 %; null beside a rate: more than can be counted'),
  dispersion: z.number().min(1),
  quality: z.enum(QUALITIES),
  baseline_per_min: rate.describe(
    'what the baseline predicts for the conditions it ran in; null: for less than half of them there is a yardstick',
  ),
  excluded_ms: byClass('milliseconds'),
  excluded_pulses: byClass('pulses'),
});

const seriesPieceSchema = z.object({
  start: utcSchema,
  end: utcSchema,
  running_pulses: count,
  running_ms: count.min(1),
  mean_per_min: rate.describe('null: more than can be counted'),
  lower_per_min: rate.describe('lower limit of the mean, 95 %'),
  upper_per_min: rate.describe('upper limit of the mean, 95 %; null: more than can be counted'),
  dispersion: z.number().min(1).describe('the largest of its points'),
  quality: z.enum(QUALITIES),
});

const setpoint = z.object({
  alarm: z.string(),
  kind: z.string().describe(`such as ${Object.keys(ALARM_KINDS).slice(0, 3).join(', ')}`),
  priority: z.enum(ALARM_PRIORITIES),
  setpoint_per_min: rate.describe('null: it is relative'),
  deadband_per_min: rate,
  times_baseline: z
    .number()
    .nullable()
    .describe('of alarms on the baseline: how many times it; null: another kind'),
});

export const seriesSchema = z
  .object({
    sensor: z.string(),
    from: utcSchema,
    to: utcSchema.describe('whole buckets around what was asked for'),
    period: z.enum(PERIODS).describe('of the rollups that were reduced'),
    bucket_ms: count,
    unit: z.literal('pulses per minute of running exposure'),
    baseline: z
      .object({
        state: z.enum(['learning', 'learnt', 'stale']),
        sentence: z.string(),
        since: utcOrNull.describe('what ran before is not comparable with it; null: all that was counted is'),
      })
      .describe('the yardstick behind baseline_per_min'),
    setpoints: z.array(setpoint),
    points: z
      .array(seriesPointSchema)
      .describe(
        'every bucket from the first to the last that holds anything, in order of time; empty: nothing was counted',
      ),
    limits: z
      .object({
        piece_ms: count.describe('a multiple of bucket_ms, so that there are at most 200 pieces'),
        pieces: z
          .array(seriesPieceSchema)
          .describe(
            'those in which anything ran, in order of time; of the first and the last only what lies inside the span is counted',
          ),
      })
      .describe(
        'limits of the mean over longer pieces than the points: what a band in a picture is drawn from, because those of one short bucket are wider than most pictures',
      ),
    total: z
      .object({
        ...{ running_pulses: count, running_ms: count, days: count },
        ...{ mean_per_min: rate, lower_per_min: rate, upper_per_min: rate },
        quality: z.enum(QUALITIES).describe('uncertain: fewer than seven running days'),
      })
      .nullable()
      .describe(
        'with `total=days`: the whole hours of the span in one figure, with 95 % limits from how much its days differ; null: not asked for, or nothing ran',
      ),
    hours: z
      .object({
        ...{ from: utcSchema, to: utcSchema, running_pulses: count, running_ms: count },
        ...{ excluded_ms: byClass('milliseconds'), excluded_pulses: byClass('pulses') },
      })
      .nullable()
      .describe(
        'with `total=days`: all that was counted in the whole hours that hold the span; null: not asked for',
      ),
  })
  .describe('The running rate of one sensor over a span, reduced to a bounded number of buckets');
export type SeriesPieceBody = z.output<typeof seriesPieceSchema>;
export type SeriesBody = z.output<typeof seriesSchema>;

export const STRIP_STATES = [...TOLD_RUN_STATES, 'several'] as const;

const reach = z
  .object({ min: z.number(), mean: z.number().describe('over time'), max: z.number() })
  .nullable()
  .describe('null: nobody told it meanwhile');

const alarmMark = z.object({
  id: z.int().describe('number of the entry in the journal'),
  at: utcSchema,
  alarm: z.string(),
  what: z.enum(JOURNAL_CHANGES),
  text: z.string(),
  has_evidence: z.boolean().describe('the entry in the journal holds the evidence'),
});

export const markSchema = z.object({
  kind: z.enum(['action', 'finding', 'alarm']),
  at: utcSchema,
  text: z.string(),
  action: actionSchema.nullable(),
  finding: findingSchema.nullable(),
  alarm: alarmMark.nullable(),
});
export type MarkBody = z.output<typeof markSchema>;

export const timelineSchema = z
  .object({
    motor: z.string(),
    from: utcSchema,
    to: utcSchema,
    zone: z.string().describe('IANA time zone of the site'),
    run_states: z.array(
      z.object({
        from: utcSchema,
        to: utcSchema,
        state: z
          .enum(STRIP_STATES)
          .describe('several: more than one, too short to be told apart at this span'),
        modulating: z.boolean().nullable().describe('null: not told at this span'),
        ms: z
          .object({ running: count, standing: count, changing: count, unknown: count })
          .nullable()
          .describe('time by what the motor did, where the piece is a sum; null: the state is all of it'),
      }),
    ),
    run_states_exact_from: utcOrNull.describe(
      'from here on they are the messages of the drive, before it the classes of the counts; null: the classes throughout',
    ),
    transients: z.array(
      z.object({
        from: utcSchema,
        to: utcSchema,
        kind: z.enum(['start', 'stop', 'start-stop', 'other']),
        transients: count.describe('more than one: they lie too close to be told apart at this span'),
        edges: count,
        counts: z.array(z.object({ sensor: z.string(), pulses: count, ms: count })),
      }),
    ),
    condition: z.object({
      bucket_ms: count,
      sampled: z
        .boolean()
        .describe('true: of too many messages some were looked up, so that a short peak may be missing'),
      points: z.array(z.object({ start: utcSchema, end: utcSchema, speed_rpm: reach, load_pct: reach })),
    }),
    marks: z.array(markSchema).describe('what was done and found, and what alarms did, in order of time'),
    next: z.string().nullable().describe('give it as `cursor` for further marks; null: these are the last'),
  })
  .describe('What lies on the time axis of a motor beside its rates');
export type TimelineBody = z.output<typeof timelineSchema>;

const limits = z.object({
  mean: z.number(),
  lower: z.number(),
  upper: z.number().nullable().describe('null: no bound'),
});

export const groupSchema = z
  .object({
    group: z.string(),
    from: utcSchema,
    to: utcSchema,
    bins: z.array(
      z.object({
        bin: z.string(),
        unlike: z.string().nullable().describe('why counts in it compare with nothing; null: they do'),
        motors: count,
        ms: count,
      }),
    ),
    sensors: z.array(
      z.object({
        sensor: z.string(),
        motor: z.string(),
        position: z.string(),
        from: utcOrNull,
        to: utcOrNull,
        cells: z.array(
          z.object({
            bin: z.string(),
            pulses: count,
            ms: count,
            dispersion: z.number().min(1),
            rate_per_min: limits.describe('with 95 % limits'),
          }),
        ),
        matched: z
          .object({
            rate_per_min: limits.describe("in the middle of the group's conditions"),
            ratio: limits.describe('to the middle of its group, like bins with like bins'),
            pulses: count,
            ms: count,
            p: z.number().describe('one-sided, of a rate so high among healthy motors'),
            motors: count,
            odd: z.boolean(),
            torn: z.boolean().describe('the group falls into two halves: nobody can say which is odd'),
          })
          .nullable()
          .describe('null: too little is shared, or too small a group'),
        sentence: z
          .string()
          .describe('said of the odd one, and of those that cannot be told apart; empty: nothing'),
      }),
    ),
    positions: z.array(
      z.object({
        position: z.string(),
        missing: z.string().describe('what a comparison lacks; empty: nothing'),
      }),
    ),
  })
  .describe('A duty group side by side, matched on condition bins');
export type GroupBody = z.output<typeof groupSchema>;
