/** Answers that hold several lists, or lists within lists, as one table each for whoever asks for CSV. Pure. */
import { z } from 'zod';
import { ALARM_KINDS } from '../../shared/alarm-terms.js';
import type { BearingLifeBody } from '../../shared/bearing-life.js';
import type { GroupBody, TimelineBody } from '../../shared/charts.js';
import { utcSchema } from '../../shared/time.js';
import type { CsvTable } from './csv.js';
import type { RehearsalBody } from './rehearsal-bodies.js';

const text = z.string();
const figure = z.number().nullable();
const utcOrNull = utcSchema.nullable();

const timelineRow = z.object({
  what: z.enum(['run-state', 'transient', 'condition', 'action', 'finding', 'alarm']),
  from: utcSchema,
  to: utcOrNull.describe('null: it is a moment'),
  name: text.describe('run state, kind of the transient, action, or id of the alarm'),
  ...{ sensor: text, pulses: figure, ms: figure, edges: figure },
  ...{ speed_min_rpm: figure, speed_mean_rpm: figure, speed_max_rpm: figure },
  ...{ load_min_pct: figure, load_mean_pct: figure, load_max_pct: figure },
  text,
});
type TimelineRow = Partial<z.output<typeof timelineRow>>;

function listTimeline(body: TimelineBody): TimelineRow[] {
  return [
    ...body.run_states.map(({ from, to, state }) => ({ what: 'run-state' as const, from, to, name: state })),
    ...body.transients.flatMap(({ from, to, kind, edges, counts }) =>
      counts.map((each) => ({ what: 'transient' as const, from, to, name: kind, edges, ...each })),
    ),
    ...body.condition.points.map(({ start, end, speed_rpm: speed, load_pct: load }) => ({
      ...{ what: 'condition' as const, from: start, to: end },
      ...{ speed_min_rpm: speed?.min, speed_mean_rpm: speed?.mean, speed_max_rpm: speed?.max },
      ...{ load_min_pct: load?.min, load_mean_pct: load?.mean, load_max_pct: load?.max },
    })),
    ...body.marks.map(({ kind, at, text: says, action, finding, alarm }) => ({
      ...{ what: kind, from: at, to: null, text: says },
      name: alarm?.alarm ?? action?.action ?? finding?.modes.join(' ') ?? '',
    })),
  ] as TimelineRow[];
}

export const timelineTable: CsvTable = { row: timelineRow, rows: listTimeline };

const groupRow = z.object({
  ...{ sensor: text, motor: text, position: text },
  bin: text.describe('condition bin; empty: all that is matched'),
  ...{ pulses: figure, ms: figure, dispersion: figure },
  ...{ rate_per_min: figure, lower_per_min: figure, upper_per_min: figure },
  ...{ ratio: figure, ratio_lower: figure, ratio_upper: figure, p: figure },
  ...{ odd: z.boolean().nullable(), sentence: text },
});

function listGroup({ sensors }: GroupBody): Partial<z.output<typeof groupRow>>[] {
  return sensors.flatMap(({ sensor, motor, position, cells, matched, sentence }) => [
    ...cells.map(({ bin, pulses, ms, dispersion, rate_per_min: rate }) => ({
      ...{ sensor, motor, position, bin, pulses, ms, dispersion },
      ...{ rate_per_min: rate.mean, lower_per_min: rate.lower, upper_per_min: rate.upper },
    })),
    ...(matched === null ? [] : [{ sensor, motor, position, ...toMatched(matched), sentence }]),
  ]);
}

function toMatched({ rate_per_min: rate, ratio, pulses, ms, p, odd }: Matched) {
  return {
    ...{ bin: '', pulses, ms, p, odd },
    ...{ rate_per_min: rate.mean, lower_per_min: rate.lower, upper_per_min: rate.upper },
    ...{ ratio: ratio.mean, ratio_lower: ratio.lower, ratio_upper: ratio.upper },
  };
}
type Matched = NonNullable<GroupBody['sensors'][number]['matched']>;

export const groupTable: CsvTable = { row: groupRow, rows: listGroup };

const lifeRow = z.object({
  ...{ motor: text, position: text, fitted_at: utcOrNull, fitted_by: text, bearing: text.nullable() },
  removed_at: utcOrNull.describe('null: it is in'),
  ...{ running_hours: figure, running_pulses: figure, transient_pulses: figure, rate_per_min: figure },
});

export const lifeTable: CsvTable = {
  row: lifeRow,
  rows: ({ motor, position, earlier, ...now }: BearingLifeBody) =>
    [now, ...earlier].map((life) => ({ motor, position, ...life })),
};

const rehearsedRow = z.object({
  ...{ alarm: text, motor: text, sensor: text.nullable() },
  kind: text.describe(`such as ${Object.keys(ALARM_KINDS).slice(0, 2).join(', ')}`),
  ...{ journal_raised: figure, running_raised: figure, candidate_raised: figure },
  ...{ journal_stood_ms: figure, running_stood_ms: figure, candidate_stood_ms: figure },
  ...{ events: figure, missed: figure, not_rehearsed: text, conclusion: text },
});

export const rehearsalTable: CsvTable = {
  row: rehearsedRow,
  rows: ({ result }: RehearsalBody) =>
    (result?.alarms ?? []).map(({ id, running, candidate, journal, ...rest }) => ({
      ...{ alarm: id, ...rest },
      ...{ journal_raised: journal.raised, journal_stood_ms: journal.stood_ms },
      ...{ running_raised: running?.raised, running_stood_ms: running?.stood_ms },
      ...{ candidate_raised: candidate?.raised, candidate_stood_ms: candidate?.stood_ms },
    })),
};
