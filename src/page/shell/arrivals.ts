/** What is said of alarms that have come, to whoever hears the page: what is new, and never the whole list again. */
import { effect } from '@preact/signals';
import type { AlarmBody } from '../data/bodies.js';
import { openAlarms } from '../data/plant.js';
import { nameAlarm, namePlace, PRIORITY_WORDS } from '../parts/alarm-words.js';
import { tellHeard } from '../parts/heard-news.js';
import { asksForAnswer, waitingAlarms } from '../parts/waiting-alarms.js';

/** One cause raises several within moments. */
const SETTLE_MS = 1_500;
const NAMED_MOST = 3;

function nameArrival(alarm: AlarmBody): string {
  return `${PRIORITY_WORDS[alarm.priority]}: ${nameAlarm(alarm)}, ${namePlace(alarm)}`;
}

/** `before`: ids of those that waited. Null: nothing has come. */
export function sayArrivals(before: ReadonlySet<string>, waiting: readonly AlarmBody[]): string | null {
  const arrived = waiting.filter(({ id }) => !before.has(id));
  if (arrived.length === 0) return null;
  const named = arrived.slice(0, NAMED_MOST).map(nameArrival).join('; ');
  const more = arrived.length - NAMED_MOST;
  const head = arrived.length === 1 ? 'One alarm has come' : `${arrived.length} alarms have come`;
  return `${head}. ${named}${more > 0 ? `; and ${more} more` : ''}. Needs an answer: ${waiting.length}.`;
}

function idsOf(alarms: readonly AlarmBody[]): Set<string> {
  return new Set(alarms.map(({ id }) => id));
}

/** Call once. What waits when the page is opened is read there, and not said. */
export function followArrivals(): void {
  let before: Set<string> | null = null;
  let timer: ReturnType<typeof setTimeout> | undefined;
  effect(() => {
    const open = openAlarms.value;
    if (open === null) return;
    before ??= idsOf([...open.values()].filter(asksForAnswer));
    // what is answered and comes again within the pause is new as well; at each event of a flood all of them are not put in order anew
    for (const id of before) {
      const alarm = open.get(id);
      if (alarm === undefined || !asksForAnswer(alarm)) before.delete(id);
    }
    timer ??= setTimeout(() => {
      timer = undefined;
      const says = sayArrivals(before!, waitingAlarms.peek());
      before = idsOf(waitingAlarms.peek());
      if (says !== null) tellHeard(says);
    }, SETTLE_MS);
  });
}
