/** What every remedy on record did to the counts, or what its before/after still lacks. */
import type { ActionEvidence, RatioEvidence } from '../../advice/evidence.js';
import type { QuestionAnswer } from '../../advice/question.js';
import { ACTIONS, isAtPlace } from '../../../shared/maintenance-terms.js';
import type { MaintenanceAction } from '../../core/maintenance-rows.js';
import type { ReadStore } from '../../store/reader.js';
import { answerAround } from './period-question.js';

const SENSOR_WORK = ['sensor-moved', 'device-swapped'];

/** One remedy with its answer for one sensor of the motor. Older first. */
export function answerRemedies(
  reader: ReadStore,
  sensors: readonly string[],
  actions: readonly MaintenanceAction[],
): QuestionAnswer[] {
  return actions.flatMap((action) =>
    sensors
      .filter(() => ACTIONS[action.action].isRemedy)
      .map((sensor) => answerAround(reader, sensor, action, actions)),
  );
}

/** The actions as evidence, each with its effect on the sensor that changed most. */
export function toActionEvidence(
  reader: ReadStore,
  sensors: readonly string[],
  actions: readonly MaintenanceAction[],
  answers: readonly QuestionAnswer[],
): ActionEvidence[] {
  return actions.map((action) => {
    const own = SENSOR_WORK.includes(action.action)
      ? sensors
          .filter((sensor) => isAtPlace(action.end, sensor.split('/')[1] ?? ''))
          .map((sensor) => answerAround(reader, sensor, action, actions))
      : answers.filter((answer) => answer.action?.id === action.id);
    return {
      id: String(action.id),
      kind: action.action,
      end: action.end,
      bearing: action.bearing,
      at: action.at,
      effect: strongest(own),
    };
  });
}

/** null: no sensor has an answer yet. */
function strongest(answers: readonly QuestionAnswer[]): RatioEvidence | null {
  const ratios = answers.flatMap(({ comparison }) =>
    comparison === null ? [] : (toRatio(comparison) ?? []),
  );
  const sizeOf = ({ ratio }: RatioEvidence): number => Math.abs(Math.log(ratio));
  return ratios.reduce<RatioEvidence | null>(
    (best, each) => (best === null || sizeOf(each) > sizeOf(best) ? each : best),
    null,
  );
}

/** null: the comparison says nothing. Without pulses on the other side the ratio is without bound. */
export function toRatio(comparison: QuestionAnswer['comparison']): RatioEvidence | null {
  if (comparison === null || comparison.method === null) return null;
  const { ratio, lower, upper, a, b } = comparison;
  if (a.pulses === 0 && b.pulses === 0) return null;
  return { ratio: ratio ?? Infinity, lower, upper };
}
