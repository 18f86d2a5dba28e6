/**
 * A count over a set time, for comparing with a portable counter, as it is asked for and as it is told.
 * Times are RFC 3339 with milliseconds and Z. Null means not known, never zero. Rates are pulses per minute of running exposure.
 */
import { z } from 'zod';
import { LEDGER_CLASS_NAMES, QUALITIES, TOLD_RUN_STATES, type LedgerClassName } from './ledger-terms.js';
import { classesSchema } from './out-messages.js';
import { formatUtc, utcSchema } from './time.js';
import { COUNT_PAST_MOST_MS } from './limits.js';

/** A live count: shorter says little, longer is what rollups are for. */
export const COUNT_LEAST_MS = 10_000;
export const COUNT_MOST_MS = 600_000;
export const COUNT_DEFAULT_MS = 60_000;
export { COUNT_PAST_MOST_MS };

const count = z.int().min(0);
const rate = z.number().min(0).nullable();
const spell = z
  .object({
    min: z.number(),
    mean: z.number().describe('over time'),
    max: z.number(),
    known_ms: count.describe('time of the count in which it was known'),
  })
  .nullable()
  .describe('null: nobody told it meanwhile');

export const countSchema = z
  .object({
    sensor: z.string(),
    asked: z.object({ from: utcSchema, to: utcSchema, ms: count }),
    covered: z
      .object({ from: utcSchema, to: utcSchema, ms: count.describe('of its increments, summed') })
      .nullable()
      .describe('what the increments that end inside really cover; null: none does'),
    increments: count,
    pulses: count.describe('of all classes'),
    pending_pulses: count.describe('of these, not classified yet'),
    classes: classesSchema,
    uncertain_ms: count,
    run_states: z.array(
      z.object({ from: utcSchema, to: utcSchema, state: z.enum(TOLD_RUN_STATES), modulating: z.boolean() }),
    ),
    condition: z.object({ speed_rpm: spell, load_pct: spell, switching_khz: spell, dc_link_v: spell }),
    rate_per_min: rate.describe('null: no running exposure'),
    lower_per_min: rate.describe('lower limit, 95 %'),
    upper_per_min: rate.describe('upper limit, 95 %; null beside a rate: more than can be counted'),
    dispersion: z.number().min(1),
    quality: z.enum(QUALITIES),
    settled: z.boolean().describe('everything in it has its class, and a reading covers the end'),
    says: z.string().describe('what it says and does not say, in plain words'),
  })
  .describe('Pulses of whole increments over a set time, with run state and condition beside them');
export type CountBody = z.output<typeof countSchema>;

export const countRequest = z.strictObject({
  sensor: z
    .string()
    .regex(/^[a-z0-9][a-z0-9-]{0,39}\/[a-z0-9][a-z0-9-]{0,39}$/, 'expected <motor>/<position>')
    .describe('<motor>/<position>'),
  for_ms: z
    .int()
    .min(COUNT_LEAST_MS)
    .max(COUNT_MOST_MS)
    .default(COUNT_DEFAULT_MS)
    .describe('how long, from now on'),
});

export const LIVE_COUNT_STATES = ['counting', 'settling', 'done', 'incomplete'] as const;

export const liveCountSchema = z
  .object({
    id: z.string(),
    sensor: z.string(),
    from: utcSchema,
    to: utcSchema,
    state: z
      .enum(LIVE_COUNT_STATES)
      .describe(
        'settling: the time is over, its last readings are not classified yet; incomplete: they have not come in time',
      ),
    progress: z.number().min(0).max(1).describe('share of the time that is over'),
    result: countSchema.nullable().describe('null until it is done or incomplete'),
  })
  .describe('A count that goes on, or is over');
export type LiveCountBody = z.output<typeof liveCountSchema>;

interface SpellRow {
  readonly least: number;
  readonly mean: number;
  readonly most: number;
  readonly knownMs: number;
}

export interface CountRow {
  readonly sensor: string;
  readonly from: number;
  readonly to: number;
  readonly covered: { readonly from: number; readonly to: number } | null;
  readonly coveredMs: number;
  readonly increments: number;
  readonly pulses: number;
  /** pulses and ms by class, places 1 to 7; place 8: not classified yet */
  readonly sums: {
    readonly pulses: readonly number[];
    readonly ms: readonly number[];
    readonly uncertainMs: number;
  };
  readonly strip: readonly {
    readonly from: number;
    readonly to: number;
    readonly state: CountBody['run_states'][number]['state'];
    readonly modulating: boolean;
  }[];
  readonly condition: {
    readonly speedRpm: SpellRow | null;
    readonly loadPct: SpellRow | null;
    readonly switchingKhz: SpellRow | null;
    readonly dcLinkV: SpellRow | null;
  };
  readonly ratePerMin: number | null;
  readonly lowerPerMin: number | null;
  readonly upperPerMin: number | null;
  readonly dispersion: number;
  readonly quality: CountBody['quality'];
  readonly isSettled: boolean;
  readonly says: string;
}

const PENDING = 8;

export function writeCount(row: CountRow): CountBody {
  const { covered, condition, sums } = row;
  const classes = Object.fromEntries(
    LEDGER_CLASS_NAMES.map((name, i) => [name, { pulses: sums.pulses[i + 1]!, ms: sums.ms[i + 1]! }]),
  ) as Record<LedgerClassName, { pulses: number; ms: number }>;
  return {
    sensor: row.sensor,
    asked: { from: formatUtc(row.from), to: formatUtc(row.to), ms: row.to - row.from },
    covered:
      covered === null
        ? null
        : { from: formatUtc(covered.from), to: formatUtc(covered.to), ms: row.coveredMs },
    increments: row.increments,
    pulses: row.pulses,
    pending_pulses: sums.pulses[PENDING]!,
    classes,
    uncertain_ms: sums.uncertainMs,
    run_states: row.strip.map((piece) => ({
      ...piece,
      from: formatUtc(piece.from),
      to: formatUtc(piece.to),
    })),
    condition: {
      speed_rpm: writeSpell(condition.speedRpm),
      load_pct: writeSpell(condition.loadPct),
      switching_khz: writeSpell(condition.switchingKhz),
      dc_link_v: writeSpell(condition.dcLinkV),
    },
    rate_per_min: finite(row.ratePerMin),
    lower_per_min: finite(row.lowerPerMin),
    upper_per_min: finite(row.upperPerMin),
    dispersion: row.dispersion,
    quality: row.quality,
    settled: row.isSettled,
    says: row.says,
  };
}

function writeSpell(row: SpellRow | null): CountBody['condition']['speed_rpm'] {
  return row === null ? null : { min: row.least, mean: row.mean, max: row.most, known_ms: row.knownMs };
}

/** JSON has no infinity; a counter that dead time swamps has no upper bound. */
function finite(value: number | null): number | null {
  return value === null || !Number.isFinite(value) ? null : value;
}
