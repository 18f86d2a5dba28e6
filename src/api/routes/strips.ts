/** The plant at a glance: the last day of every sensor, reduced by the store's own thread. */
import { z } from 'zod';
import { formatUtc, utcSchema } from '../../../shared/time.js';
import { STRIP_STEP_MS, STRIP_STEPS, stripFrom, type DayStrip } from '../../core/day-strip.js';
import { next } from '../bodies.js';
import type { ApiDeps } from '../deps.js';
import { cutPage, listParameters } from '../pages.js';
import { defineRoute, type Route } from '../route.js';

/** Ten screens that come back after a restart ask within seconds: they share one answer. */
const KEPT_MS = 5_000;

export const stripsBody = z.object({
  now: utcSchema,
  from: utcSchema,
  step_ms: z.int().describe('length of one stretch; the last one is not over'),
  steps: z.int(),
  sensors: z.array(
    z.object({
      sensor: z.string().describe('<motor>/<position>'),
      rates_per_min: z.array(z.number().nullable()).describe('null: no running exposure'),
      states: z
        .string()
        .regex(/^[rstux-]*$/)
        .describe(
          'what most of each stretch was: r running, s standing, t starting or stopping, u run state unknown, ' +
            'x excluded otherwise, - nothing heard of the sensor',
        ),
      last: z
        .object({ pulses: z.int(), ms: z.int() })
        .describe('running pulses and exposure of the last stretch, for whoever adds what comes live'),
    }),
  ),
  next,
});

type StripsBody = z.output<typeof stripsBody>;

function toBody(strip: DayStrip) {
  return {
    sensor: strip.sensor,
    rates_per_min: [...strip.rates],
    states: strip.states,
    last: { ...strip.last },
  };
}

/** Of the configured sensors, in the order of the configuration; one that was never heard has an empty day. */
async function readStrips(deps: ApiDeps): Promise<Omit<StripsBody, 'next'>> {
  const now = deps.now();
  const from = stripFrom(now);
  const found = new Map((await deps.reader.strips(from)).map((strip) => [strip.sensor, strip]));
  const empty = {
    rates: Array<null>(STRIP_STEPS).fill(null),
    states: '-'.repeat(STRIP_STEPS),
    last: { pulses: 0, ms: 0 },
  };
  return {
    ...{ now: formatUtc(now), from: formatUtc(from), step_ms: STRIP_STEP_MS, steps: STRIP_STEPS },
    sensors: [...deps.plan().sensors.keys()].map((sensor) =>
      toBody(found.get(sensor) ?? { sensor, ...empty }),
    ),
  };
}

/** One route with its own short memory. */
export function stripsRoute(): Route {
  let kept: { at: number; answer: Promise<Omit<StripsBody, 'next'>> } | null = null;
  return defineRoute({
    method: 'GET',
    path: '/api/v1/strips',
    summary: 'The last day of every sensor at a glance: a rate and a run state for each stretch of 20 min',
    query: z.strictObject(listParameters),
    params: z.strictObject({}),
    body: null,
    response: stripsBody,
    list: 'sensors',
    handle: async ({ query }, deps) => {
      const at = deps.now();
      if (kept === null || at < kept.at || at - kept.at > KEPT_MS) {
        const mine = { at, answer: readStrips(deps) };
        kept = mine;
        mine.answer.catch(() => {
          if (kept === mine) kept = null; // a failure is not kept
        });
      }
      const whole = await kept.answer;
      const { items: sensors, next } = cutPage(whole.sensors, ({ sensor }) => sensor, query);
      return { ...whole, sensors, next };
    },
  });
}
