/** What needs an answer, most urgent first; under it, folded by default, what somebody has answered and still stands. */
import { computed } from '@preact/signals';
import { useRef } from 'preact/hooks';
import { zone, now } from '../data/clock.js';
import type { AlarmBody } from '../data/bodies.js';
import { heldAlarms, placeCards } from '../acts/held-alarms.js';
import { floodSince, missingAlarms, openAlarms } from '../data/plant.js';
import { isHidden, isNotice, isShown } from '../parts/alarm-words.js';
import { useFocusKept } from '../parts/use-focus-kept.js';
import { waitingAlarms } from '../parts/waiting-alarms.js';
import { formatMoment } from '../times.js';
import { AlarmCard } from './alarm-card.js';

/** More cards than this are no list for a person; the rest is counted and found in the list of alarms. */
const CARDS_MOST = 50;

/** From so many on one note for several is quicker than one for each. */
const SEVERAL = 5;

const all = computed(() => [...(openAlarms.value?.values() ?? [])]);
const cards = computed(() =>
  placeCards(
    openAlarms.value ?? new Map(),
    heldAlarms.value,
    (alarm) => isShown(alarm) && alarm.grouped_under === null,
  ),
);
const noticeCount = computed(() => all.value.filter((alarm) => isNotice(alarm) && !isHidden(alarm)).length);
const hiddenCount = computed(() => all.value.filter(isHidden).length);
const members = computed(() => {
  const counts = new Map<string, number>();
  for (const { grouped_under: group } of all.value)
    if (group !== null) counts.set(group, (counts.get(group) ?? 0) + 1);
  return counts;
});

function Cards({ alarms }: { alarms: readonly AlarmBody[] }) {
  // one that somebody writes about is not pushed out by others that come
  const cut = alarms.filter(({ id }, place) => place < CARDS_MOST || heldAlarms.value.has(id));
  return (
    <>
      {cut.map((alarm) => (
        <AlarmCard key={alarm.id} alarm={alarm} members={members.value.get(alarm.id) ?? 0} />
      ))}
      {alarms.length > cut.length && (
        <p>
          And {alarms.length - cut.length} more: <a href="/alarms">see the list of alarms</a>.
        </p>
      )}
    </>
  );
}

function Flood() {
  if (floodSince.value === null) return null;
  return (
    <p class="flood" role="status">
      <strong>Alarms come faster than one person can answer them</strong>, since{' '}
      {formatMoment(Date.parse(floodSince.value), now.peek(), zone.value)}. The most urgent stand first; those
      with one cause are kept under one alarm.
    </p>
  );
}

export function AnswerList() {
  const list = useRef<HTMLElement>(null);
  useFocusKept(list, '[data-alarm]');
  if (openAlarms.value === null) return <p class="quiet">Waiting for the gateway…</p>;
  const { waiting, answered } = cards.value;
  const count = waitingAlarms.value.length;
  return (
    <section class="answers" aria-labelledby="answers-title" ref={list}>
      <h1 id="answers-title" tabIndex={-1}>
        {count === 0 ? 'Nothing needs an answer' : `Needs an answer: ${count}`}
      </h1>
      <Flood />
      {missingAlarms.value !== null && (
        <p class="is-stale">Only the gateway's own alarms can be shown: {missingAlarms.value}.</p>
      )}
      {count >= SEVERAL && (
        <p>
          <a href="/alarms?show=waiting">Acknowledge several together in the list</a>
        </p>
      )}
      <Cards alarms={waiting} />
      {answered.length > 0 && (
        <details class="answered">
          <summary>Answered, and still there: {answered.length}</summary>
          <Cards alarms={answered} />
        </details>
      )}
      {noticeCount.value > 0 && (
        <p class="quiet">
          <a href="/alarms?show=notices">
            {noticeCount.value === 1 ? '1 notice, which asks' : `${noticeCount.value} notices, which ask`}{' '}
            nothing of the operator
          </a>
        </p>
      )}
      {hiddenCount.value > 0 && (
        <p class="quiet">
          <a href="/alarms?show=hidden">
            {hiddenCount.value} shelved, suppressed by design or out of service
          </a>
        </p>
      )}
    </section>
  );
}
