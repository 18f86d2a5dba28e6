/**
 * The life of a bearing: since when it is in, what was counted beside it meanwhile, what was done and what was found.
 * Times are RFC 3339 with milliseconds and Z; null means not known, never zero.
 */
import { z } from 'zod';
import { actionSchema, findingSchema } from './maintenance.js';
import { BEARING_KINDS } from './maintenance-terms.js';
import { formatUtc, formatUtcOrNull, utcSchema } from './time.js';
import { writeAction, writeFinding, type ActionRow, type FindingRow } from './write-maintenance.js';

const HOUR_MS = 3_600_000;
const MINUTE_MS = 60_000;

const life = {
  fitted_at: utcSchema
    .nullable()
    .describe('when it was fitted, or where that was never entered, the first data; null: there is neither'),
  fitted_by: z.enum(['replacement', 'first-data']).describe('first-data: it may be older than that'),
  bearing: z.enum(BEARING_KINDS).nullable().describe('what was fitted; null: not entered'),
  removed_at: utcSchema.nullable().describe('null: it is in'),
  counted: z
    .object({ from: utcSchema, to: utcSchema })
    .nullable()
    .describe('what the sums are over: whole minutes, whole hours where no minutes are kept any more'),
  running_hours: z.number().min(0).describe('running exposure, hours'),
  running_pulses: z.int().min(0),
  transient_pulses: z.int().min(0),
  rate_per_min: z.number().min(0).nullable().describe('mean over its life; null: no running exposure'),
  actions: z.array(actionSchema).describe('what was done to the motor meanwhile, the replacement first'),
  findings: z.array(findingSchema).describe('what was found on this bearing'),
};

export const bearingLifeSchema = z
  .object({
    motor: z.string(),
    position: z.string(),
    ...life,
    earlier: z.array(z.object(life)).describe('the bearings that were in before, newest first'),
  })
  .describe('Counts of a bearing, with what was done and found. They do not say how long it will last');
export type BearingLifeBody = z.output<typeof bearingLifeSchema>;
type LifeBody = BearingLifeBody['earlier'][number];

export interface LifeRow {
  readonly fittedAt: number | null;
  readonly replacement: ActionRow | null;
  readonly removedAt: number | null;
  readonly counted: { readonly from: number; readonly to: number } | null;
  readonly runningMs: number;
  readonly runningPulses: number;
  readonly transientPulses: number;
  readonly actions: readonly ActionRow[];
  readonly findings: readonly FindingRow[];
}

function writeLife(row: LifeRow): LifeBody {
  const { counted, runningMs, runningPulses, transientPulses } = row;
  return {
    fitted_at: formatUtcOrNull(row.fittedAt),
    fitted_by: row.replacement === null ? 'first-data' : 'replacement',
    bearing: row.replacement?.bearing ?? null,
    removed_at: formatUtcOrNull(row.removedAt),
    counted: counted === null ? null : { from: formatUtc(counted.from), to: formatUtc(counted.to) },
    running_hours: runningMs / HOUR_MS,
    running_pulses: runningPulses,
    transient_pulses: transientPulses,
    rate_per_min: runningMs === 0 ? null : runningPulses / (runningMs / MINUTE_MS),
    actions: row.actions.map(writeAction),
    findings: row.findings.map(writeFinding),
  };
}

/** `lives`: newest first, at least one. */
export function writeBearingLife(
  motor: string,
  position: string,
  lives: readonly LifeRow[],
): BearingLifeBody {
  const [now, ...earlier] = lives.map(writeLife);
  if (now === undefined) throw new RangeError('a bearing has one life at least');
  return { motor, position, ...now, earlier };
}
