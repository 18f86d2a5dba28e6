/** One question of a person, answered from the store on the reading thread. */
import type { Fleet } from '../../advice/fleet.js';
import { findSisters } from '../../advice/fleet.js';
import type { CompareQuestion, QuestionAnswer } from '../../advice/question.js';
import { breaksComparability } from '../../../shared/maintenance-terms.js';
import type { MaintenanceAction } from '../../core/maintenance-rows.js';
import { readReach } from '../../store/read-sides.js';
import type { ReadStore } from '../../store/reader.js';
import { answerBaseline } from './baseline-question.js';
import { answerAround, answerPeriods, listActions } from './period-question.js';
import { NoSuchEntry } from './no-such-entry.js';
import { answerSisters } from './sister-question.js';
import { shrinkToHours, type Span } from './sides.js';

const WEEK_MS = 7 * 86_400_000;

export interface CompareArgument {
  readonly fleet: Fleet;
  readonly question: CompareQuestion;
}

/** Throws `NoSuchEntry` where the action is not one of this motor's. */
export function answerQuestion(reader: ReadStore, { fleet, question }: CompareArgument): QuestionAnswer {
  const { sensor } = question;
  switch (question.kind) {
    case 'baseline':
      return answerBaseline(reader, sensor, question.from, question.to);
    case 'sisters':
      return answerSisters(reader, fleet, sensor, newestWeek(reader, fleet, sensor, question));
    case 'periods':
      return answerPeriods(reader, sensor, question.before, question.after);
    case 'around': {
      const motor = sensor.split('/')[0] ?? '';
      const actions = listActions(reader, motor);
      const action = actions.find(({ id }) => id === question.action);
      if (action === undefined) {
        throw new NoSuchEntry(
          `${motor} has no maintenance action ${question.action}, or it was withdrawn.`,
          'List them with tallypost note --list.',
        );
      }
      return answerAround(reader, sensor, action, actions);
    }
  }
}

/** The newest week of the group's running; of the sensor's own only what is comparable with today. */
export function newestWeek(
  reader: ReadStore,
  fleet: Fleet,
  sensor: string,
  { from, to }: { from: number | null; to: number | null },
): Span {
  const end = to ?? readReach(reader, [sensor, ...findSisters(fleet, sensor)])?.to ?? 0;
  if (from !== null) return shrinkToHours({ from, to: end });
  return weekBefore(end, sensor, listActions(reader, sensor.split('/')[0] ?? ''));
}

/** The week that ends at `end`, from the last action that broke the sensor's comparability on. `actions` of any motors. */
export function weekBefore(end: number, sensor: string, actions: readonly MaintenanceAction[]): Span {
  const [motor = '', position = ''] = sensor.split('/');
  const broken = actions
    .filter(
      (each) => each.motor === motor && each.at < end && breaksComparability(each.action, each.end, position),
    )
    .map(({ at }) => at);
  return shrinkToHours({ from: Math.max(end - WEEK_MS, ...broken), to: end });
}
