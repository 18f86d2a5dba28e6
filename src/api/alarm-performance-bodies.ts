/** Body of the report on the alarm system's performance. Null means "not known", never zero. */
import { z } from 'zod';
import type { AlarmFacts, Performance } from '../advice/alarm-performance.js';
import { ALARM_PRIORITIES } from '../../shared/alarm-terms.js';
import { formatUtc, formatUtcOrNull, utcSchema } from '../../shared/time.js';

const count = z.int().min(0);
const span = z.object({ from: utcSchema, to: utcSchema });
const counted = z.array(z.object({ alarm: z.string(), count }));

export const performanceBody = z.object({
  from: utcSchema,
  to: utcSchema,
  time_zone: z.string().describe('IANA zone of the site, whose days are counted'),
  positions: z.int().min(1).describe('operator positions that share the alarms'),
  covered: span
    .nullable()
    .describe('the part of the time that the journal tells of; all figures are of it; null: none'),
  alarms: count.nullable().describe('annunciated alarms'),
  figures: z.array(
    z.object({
      name: z.string(),
      title: z.string(),
      unit: z.string(),
      value: z.number().nullable(),
      verdict: z
        .enum(['within', 'manageable', 'beyond'])
        .nullable()
        .describe('against the published figure; null: there is none to judge by, or nothing is known'),
      published: z
        .object({
          says: z.string(),
          acceptable: z.number().nullable(),
          most: z.number().nullable(),
          source: z.string(),
        })
        .nullable()
        .describe('null: we know of none'),
    }),
  ),
  days: z.array(
    z.object({
      date: z.string(),
      from: utcSchema,
      to: utcSchema,
      alarms: count,
      whole: z.boolean().describe('false: a part of the day is not covered, and it is in no mean'),
    }),
  ),
  floods: z.array(span),
  priorities: z
    .record(z.enum([...ALARM_PRIORITIES, 'unknown']), count)
    .nullable()
    .describe('by the priority that the alarm has now; unknown: its record is gone'),
  frequent: z.array(z.object({ alarm: z.string(), count, share: z.number() })),
  chattering: counted.describe('announcements that lay so close together'),
  fleeting: counted,
  stale: z.array(z.object({ alarm: z.string(), since: utcSchema })).describe('where the covered time ends'),
  late: z.array(
    z.object({
      alarm: z.string(),
      at: utcSchema,
      acknowledged_at: utcSchema.nullable().describe('null: not by the end of the covered time'),
      respond_ms: count,
    }),
  ),
  shelved: z
    .array(z.object({ alarm: z.string(), until: utcSchema, by: z.string(), why: z.string() }))
    .describe('now'),
  out_of_service: z.array(z.object({ alarm: z.string(), by: z.string(), why: z.string() })).describe('now'),
});

export type PerformanceBody = z.output<typeof performanceBody>;

const toSpan = ({ from, to }: { from: number; to: number }) => ({ from: formatUtc(from), to: formatUtc(to) });

export function toPerformanceBody(report: Performance, timeZone: string): PerformanceBody {
  const { positions, covered, alarms, priorities, frequent, chattering, fleeting } = report;
  return {
    ...toSpan(report),
    ...{ time_zone: timeZone, positions, covered: covered === null ? null : toSpan(covered), alarms },
    figures: report.figures.map(({ name, title, unit, value, verdict, published }) => ({
      ...{ name, title, unit, value, verdict, published },
    })),
    days: report.days.map((day) => ({
      ...{ date: day.date, ...toSpan(day), alarms: day.alarms, whole: day.isWhole },
    })),
    floods: report.floods.map(toSpan),
    priorities: priorities === null ? null : { ...priorities },
    frequent: frequent.map((each) => ({ ...each })),
    chattering: chattering.map((each) => ({ ...each })),
    fleeting: fleeting.map((each) => ({ ...each })),
    stale: report.stale.map(({ alarm, since }) => ({ alarm, since: formatUtc(since) })),
    late: report.late.map(({ alarm, at, acknowledgedAt, respondMs }) => ({
      ...{
        alarm,
        at: formatUtc(at),
        acknowledged_at: formatUtcOrNull(acknowledgedAt),
        respond_ms: respondMs,
      },
    })),
    shelved: report.shelved.flatMap(toShelf),
    out_of_service: report.outOfService.flatMap(({ id, outOfService }) =>
      outOfService === null ? [] : [{ alarm: id, ...outOfService }],
    ),
  };
}

function toShelf({ id, shelf }: AlarmFacts): PerformanceBody['shelved'] {
  return shelf === null ? [] : [{ alarm: id, until: formatUtc(shelf.until), by: shelf.by, why: shelf.why }];
}
