/** The third question: before and after, around a maintenance action or over two periods that a person names. */
import { answerComparison } from '../../advice/comparison.js';
import { findMissing, isEnough, writeMissing } from '../../advice/exposure.js';
import { nameSensor } from '../../advice/fleet.js';
import type { ActionTold, QuestionAnswer } from '../../advice/question.js';
import type { Side } from '../../advice/side.js';
import {
  ACTIONS,
  breaksComparability,
  describeAction,
  isAtPlace,
} from '../../../shared/maintenance-terms.js';
import type { MaintenanceAction } from '../../core/maintenance-rows.js';
import { readActions } from '../../store/read-maintenance.js';
import { readReach } from '../../store/read-sides.js';
import type { ReadStore } from '../../store/reader.js';
import { shrinkToHours, sideOf, type Span } from './sides.js';

/** Most running looked at on either side of an action: four weeks hold every weekday four times (our choice). */
const AROUND_MS = 28 * 86_400_000;
const ENTRIES_MOST = 1000;

/** What was done to a motor and stands, in order of time. `motor` null: on the whole plant. */
export function listActions(reader: ReadStore, motor: string | null): MaintenanceAction[] {
  const items: MaintenanceAction[] = [];
  let cursor: string | null = null;
  do {
    const page = readActions(reader, { motor, from: null, to: null, limit: ENTRIES_MOST, cursor });
    items.push(...page.items);
    cursor = page.next;
  } while (cursor !== null);
  return items.filter(({ withdrawn }) => withdrawn === null);
}

export function answerPeriods(reader: ReadStore, sensor: string, before: Span, after: Span): QuestionAnswer {
  const sides = {
    before: named(sideOf(reader, sensor, shrinkToHours(before), true), 'before'),
    after: named(sideOf(reader, sensor, shrinkToHours(after), true), 'after'),
  };
  return compareTwo(sensor, 'periods', sides, null, []);
}

/** `action` must stand among `actions`, which are those of the sensor's motor in order of time. */
export function answerAround(
  reader: ReadStore,
  sensor: string,
  action: MaintenanceAction,
  actions: readonly MaintenanceAction[],
): QuestionAnswer {
  const { before, after } = spansAround(
    sensor,
    action,
    actions,
    readReach(reader, [sensor])?.to ?? action.at,
  );
  const sides = {
    before: named(sideOf(reader, sensor, before, true), 'before it'),
    after: named(sideOf(reader, sensor, after, true), 'after it'),
  };
  return compareTwo(sensor, 'around', sides, tellAction(action), noteAction(sensor, action));
}

/**
 * The two periods: whole hours up to four weeks on either side, cut where other work would mix in: before it at the last one
 * that broke comparability or was a remedy itself, after it at the next.
 */
export function spansAround(
  sensor: string,
  action: MaintenanceAction,
  actions: readonly MaintenanceAction[],
  newest: number,
): { before: Span; after: Span } {
  const position = sensor.split('/')[1] ?? '';
  const cuts = actions.filter((each) => each.id !== action.id && isCut(each, position)).map(({ at }) => at);
  const earlier = cuts.filter((at) => at <= action.at);
  const later = cuts.filter((at) => at > action.at);
  return {
    before: shrinkToHours({ from: Math.max(action.at - AROUND_MS, ...earlier), to: action.at }),
    after: shrinkToHours({ from: action.at, to: Math.min(action.at + AROUND_MS, newest, ...later) }),
  };
}

function isCut({ action, end }: MaintenanceAction, position: string): boolean {
  return breaksComparability(action, end, position) || (ACTIONS[action].isRemedy && isAtPlace(end, position));
}

function named(side: Side, suffix: string): Side {
  return { ...side, name: `${side.name} ${suffix}` };
}

function compareTwo(
  sensor: string,
  kind: 'periods' | 'around',
  { before, after }: { before: Side; after: Side },
  action: ActionTold | null,
  notes: readonly string[],
): QuestionAnswer {
  const missing = findMissing(before, after);
  const base = { kind, sensor, sisters: null, action };
  // two periods that a person chose are answered as they are: the limits say what they are worth
  if (kind === 'around' && !isEnough(missing)) {
    const said = writeMissing(missing);
    return {
      ...base,
      comparison: null,
      missing: said,
      sentence: `No answer yet for ${nameSensor(sensor)}: ${said}.`,
    };
  }
  const comparison = answerComparison(after, before, notes);
  return { ...base, comparison, missing: '', sentence: comparison.sentence };
}

export function tellAction(row: MaintenanceAction): ActionTold {
  return {
    id: row.id,
    kind: row.action,
    at: row.at,
    end: row.end,
    text: describeAction(row),
    isRemedy: ACTIONS[row.action].isRemedy,
  };
}

function noteAction(sensor: string, { action, end }: MaintenanceAction): string[] {
  const position = sensor.split('/')[1] ?? '';
  if (ACTIONS[action].breaks === 'place' && isAtPlace(end, position)) {
    return [
      'The sensor itself was moved or swapped: the ratio tells what that did to the counting, and nothing about the motor.',
    ];
  }
  return [];
}
