/**
 * Duty groups as they stand in the file: by what their motors' running is divided into like conditions.
 * That edges ascend, and what excludes what, is checked in duty-groups.ts.
 */
import * as z from 'zod';
import { readTime, TIME_RULE } from '../../shared/time.js';
import { decimal, list, mapping, name, wholeNumber } from './leaves.js';

/** Most edges of one axis, and most bins that are learnt. Our choice: more bins than that are never filled. */
const EDGES_MAX = 8;

function axis(min: number, max: number, unit: string, description: string) {
  return mapping(
    {
      edges: list(decimal(min, max, unit, 'Where one bin ends and the next begins.'), 'edges', 'Ascending.')
        .min(1, { error: `1 to ${EDGES_MAX} edges` })
        .max(EDGES_MAX, { error: `1 to ${EDGES_MAX} edges` })
        .optional(),
      deadband: decimal(
        0,
        max,
        unit,
        'Half of it on either side of an edge does not change the bin. Absent: a quarter of the narrowest bin, within bounds.',
      ).optional(),
      learn: wholeNumber(
        2,
        EDGES_MAX + 1,
        'bins',
        'Learn the edges of so many bins from the first week, instead of giving them.',
      ).optional(),
      since: z
        .string({ error: TIME_RULE })
        .refine((text) => readTime(text) !== null, { error: TIME_RULE })
        .meta({ description: 'Learn from what ran after this time; another time learns anew.' })
        .optional(),
    },
    description,
  ).optional();
}

const bins = mapping(
  {
    speed: axis(0, 100_000, 'rpm', 'Speed of the motor, rpm.'),
    load: axis(0, 1_000, '%', 'Load, % of rated.'),
    switching: axis(0, 100, 'kHz', 'Switching frequency, kHz.'),
    temperature: axis(-100, 300, 'degrees Celsius', 'Temperature that the readings carry, degrees Celsius.'),
    dcLink: axis(0, 10_000, 'V', 'Voltage of the DC link, V.'),
  },
  'Axes of the condition bins. None: all running is in one bin.',
);

export const DutyGroupsSchema = z
  .record(
    name('Name of a duty group.'),
    mapping({ bins: bins.optional() }, 'A duty group: motors that may be compared, under like conditions.'),
    { error: 'a mapping of duty groups' },
  )
  .default({})
  .meta({ description: 'Condition bins by duty group.' });

export type DutyGroupsContent = z.output<typeof DutyGroupsSchema>;
