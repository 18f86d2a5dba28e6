/** Alarms that stand for many with one cause: what the site may say of each in words of its own. */
import { milliseconds, mapping, name, oneOf, optional, sentence } from './leaves.js';

const HOUR_MS = 3_600_000;

function groupAlarm(gatherMs: number, about: string) {
  return optional(
    mapping(
      {
        gatherMs: optional(
          milliseconds(
            0,
            HOUR_MS,
            'How long a member waits for its like before it is told alone; one of high priority never does.',
          ),
          gatherMs,
        ),
        priority: optional(
          oneOf(['low', 'medium', 'high'], 'Of the response. Absent: the highest of its members.'),
        ),
        class: optional(name('Alarms that the site treats alike; a word of its own.')),
        timeToRespondMs: optional(
          milliseconds(
            60_000,
            31 * 24 * HOUR_MS,
            'Within which the action should begin. null: not stated.',
          ).nullable(),
        ),
        rationale: optional(sentence('Why this alarm.')),
        action: optional(sentence('What the operator does.')),
        consequence: optional(sentence('What happens if nobody does.')),
      },
      about,
    ),
  );
}

/** By kind of group; what is not written stays as the program has it. */
export const groupAlarmsMapping = mapping(
  {
    'zone-silent': groupAlarm(30_000, 'All sensors of a zone fall silent.'),
    'zone-drives-lost': groupAlarm(30_000, 'Drives of a zone are lost at the same moment.'),
    'zone-deviation': groupAlarm(600_000, 'Several motors of a zone deviate within ten minutes.'),
  },
  'Alarms that stand for many with one cause.',
);
