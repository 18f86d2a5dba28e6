/** Route for the life of a bearing: what was counted, done and found since it was fitted, and for those before it. */
import { z } from 'zod';
import { bearingLifeSchema, writeBearingLife } from '../../../shared/bearing-life.js';
import { BEARING_ENDS } from '../../../shared/maintenance-terms.js';
import { NAME_PATTERN } from '../../../shared/names.js';
import { lifeTable } from '../csv-tables.js';
import { describeNotFound, ProblemError } from '../problem.js';
import { defineRoute } from '../route.js';

const name = z.string().regex(NAME_PATTERN, 'expected a name');

export const bearingLifeRoute = defineRoute({
  method: 'GET',
  path: '/api/v1/motors/{id}/bearing-life',
  summary: 'Since when a bearing is in, what was counted beside it meanwhile, what was done and found',
  query: z.strictObject({ position: name.describe('de, nde or the position of a sensor') }),
  params: z.strictObject({ id: name }),
  body: null,
  response: bearingLifeSchema,
  list: lifeTable,
  problems: [[404, 'there is no such motor, or it has no such position']],
  async handle({ params: { id: motor }, query: { position } }, deps) {
    const isEnd = (BEARING_ENDS as readonly string[]).includes(position);
    const { motors, sensors } = deps.plan();
    if (!motors.has(motor) || !(isEnd || sensors.has(`${motor}/${position}`))) {
      throw new ProblemError(
        describeNotFound(
          `There is no bearing "${position}" of "${motor}".`,
          'GET /api/v1/motors lists them.',
        ),
      );
    }
    return writeBearingLife(motor, position, await deps.reader.bearingLives({ motor, position }));
  },
});
