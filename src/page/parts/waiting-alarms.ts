/** What waits for somebody, counted the same everywhere: in the list, the navigation, the title of the window and on the wall. */
import { computed } from '@preact/signals';
import type { AlarmBody } from '../data/bodies.js';
import { openAlarms } from '../data/plant.js';
import { isWaiting, orderAlarms } from './alarm-words.js';

/** An alarm that another one stands for asks nothing of its own. */
export function asksForAnswer(alarm: AlarmBody): boolean {
  return isWaiting(alarm) && alarm.grouped_under === null;
}

/** Most urgent first. */
export const waitingAlarms = computed(() =>
  orderAlarms([...(openAlarms.value?.values() ?? [])].filter(asksForAnswer)),
);
