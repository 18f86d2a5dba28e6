/** Route for the figures of the alarm system itself. */
import { z } from 'zod';
import { performanceBody, toPerformanceBody } from '../alarm-performance-bodies.js';
import { POSITIONS_MOST, REPORT_DEFAULT_MS, respondTimes } from '../alarm-performance-reader.js';
import { rangeParameters, wholeNumber } from '../parameters.js';
import { describeInvalid, ProblemError } from '../problem.js';
import { defineRoute } from '../route.js';

const positionsParameter = wholeNumber('operator positions that share the alarms', 1, POSITIONS_MOST, 1);

export const alarmPerformanceRoute = defineRoute({
  method: 'GET',
  path: '/api/v1/alarms/performance',
  summary: 'How many alarms operators get, and which are a nuisance, each figure beside what is published',
  query: z.strictObject({ ...rangeParameters, positions: positionsParameter }),
  params: z.strictObject({}),
  body: null,
  response: performanceBody,
  list: 'figures',
  async handle({ query }, deps) {
    const to = query.to ?? deps.now();
    const from = query.from ?? to - REPORT_DEFAULT_MS;
    if (from >= to) {
      const fault = { name: 'from', fault: 'it does not lie before `to`' };
      throw new ProblemError(describeInvalid([fault], 'Give a time before `to`, or before now.'));
    }
    const { timeZone } = deps;
    const respondMs = respondTimes(deps.plan(), await deps.reader.alarms());
    const wish = { from, to, positions: query.positions, timeZone, respondMs };
    return toPerformanceBody(await deps.advice.performance(wish), timeZone);
  },
});
