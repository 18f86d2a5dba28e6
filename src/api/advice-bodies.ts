/**
 * Bodies of comparisons, baselines and the plan list. Times RFC 3339, durations ms; null means "not known" or, of an upper
 * limit, that there is none.
 */
import { z } from 'zod';
import { next } from './bodies.js';
import { GROUNDS } from '../advice/plan-list.js';
import { utcSchema } from '../../shared/time.js';

const count = z.int().min(0);
const utcOrNull = utcSchema.nullable();
const ratio = z.number().nullable();

const figures = z.object({
  pulses: count,
  ms: count,
  phi: z.number().describe('dispersion of its counts, at least 1'),
});
const side = z.object({
  name: z.string(),
  from: utcOrNull,
  to: utcOrNull,
  pulses: count.describe('in the shared bins'),
  ms: count.describe('running time in the shared bins'),
});

const comparison = z.object({
  ratio: ratio.describe('rate of a over rate of b; null: b has no pulses, or nothing is shared'),
  lower: z.number(),
  upper: ratio.describe('null: no upper limit'),
  confidence: z.number(),
  method: z
    .enum(['conditional-exact', 'mantel-haenszel', 'jackknife'])
    .nullable()
    .describe('null: nothing is shared'),
  p: z.number().describe('two-sided, against equal rates'),
  shared_ms: count.describe('sum over the shared bins of the smaller running time'),
  a: side,
  b: side,
  bins_used: z.array(z.object({ bin: z.string(), a: figures, b: figures })),
  bins_left_out: z.array(z.object({ bin: z.string(), reason: z.string(), ms: count })),
  dispersion: z.number().describe('by what factor the variance exceeds that of Poisson counts'),
  days: count.nullable().describe('days that the limits were taken from; null: another method'),
  sentence: z.string(),
  notes: z.array(z.string()),
});

export const answerBody = z
  .object({
    question: z.enum(['baseline', 'sisters', 'around', 'periods']),
    sensor: z.string(),
    sentence: z.string().describe('the answer in one sentence, or why there is none yet'),
    missing: z.string().describe('what an answer still lacks; empty: nothing'),
    comparison: comparison.nullable().describe('null: no answer yet'),
    sisters: z
      .object({
        duty_group: z.string(),
        placed: z.array(
          z.object({
            sister: z.string(),
            ratio: ratio.describe('null: she did not discharge'),
            shared_ms: count,
          }),
        ),
        left_out: z.array(z.object({ sister: z.string(), shared_ms: count })),
        score: z
          .object({
            motors: count,
            p: z.number().describe('one-sided, of a rate so high among healthy motors'),
            odd: z.boolean(),
            torn: z.boolean().describe('the group falls into two halves: nobody can say which is odd'),
          })
          .nullable()
          .describe('null: too small a group'),
      })
      .nullable(),
    action: z
      .object({
        id: count,
        action: z.string(),
        at: utcSchema,
        end: z.string().nullable(),
        text: z.string(),
        is_remedy: z.boolean(),
      })
      .nullable(),
  })
  .describe('One of three questions: against its own baseline, its sisters, or before and after');

export const baselinesBody = z.object({
  baselines: z.array(
    z.object({
      sensor: z.string(),
      state: z.enum(['learning', 'learnt', 'stale']),
      since: utcOrNull.describe(
        'hours before this do not count; null: all that were counted do, if any were',
      ),
      sentence: z.string(),
      bins: z.array(
        z.object({
          bin: z.string(),
          state: z.enum(['learning', 'learnt', 'stale']),
          from: utcSchema,
          to: utcSchema,
          pulses: count,
          ms: count,
          days: count,
          rate_per_min: z.number().nullable(),
          phi: z.number(),
          day_phi: z.number().nullable().describe('dispersion of the daily sums; null: not learnt'),
          lacking: z
            .object({ running_ms: count, days: count, pulses: count, unsteady: z.string(), text: z.string() })
            .nullable()
            .describe('null: learnt'),
        }),
      ),
    }),
  ),
});

export const baselinesPage = baselinesBody.extend({ next });

const line = z.object({
  rank: count,
  motor: z.string(),
  ground: z.enum(GROUNDS),
  reason: z.string(),
  dose_pulses: count.describe('most running pulses of its bearings since they were fitted'),
});

export const planBody = z.object({ standing: z.string(), motors: z.array(line) });
export const planPage = planBody.extend({ next });

const sourced = z.object({ text: z.string(), source: z.string() });
const ground = z.object({
  observed: z.string(),
  weight: z.int().min(1).max(2),
  text: z.string(),
  source: z.string(),
});

export const dossierBody = z.object({
  line,
  standing: z.string(),
  remedies: z.array(answerBody).describe('before and after each remedy on record'),
  advice: z.object({
    motor: z.string(),
    standing: z.string(),
    hypotheses: z
      .array(
        z.object({
          mechanism: z.string(),
          name: z.string(),
          about: sourced,
          weight: z.string(),
          speaks_for: z.array(ground),
          speaks_against: z.array(ground),
          not_known: z.array(z.string()),
          confirm: z.array(sourced),
          refute: z.array(sourced),
          remedies: z.array(
            z.object({ text: z.string(), source: z.string(), trap: sourced, tried: z.string().nullable() }),
          ),
        }),
      )
      .describe('what could explain the counts, in order of what speaks for it'),
    observations: z.array(z.object({ id: z.string(), value: z.string().nullable(), text: z.string() })),
    cautions: z.array(z.object({ id: z.string(), text: z.string(), source: z.string() })),
  }),
});
