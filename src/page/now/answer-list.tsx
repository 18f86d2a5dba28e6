/** What needs an answer, most urgent first; under it, folded by default, what somebody has answered and still stands. */
import { computed } from '@preact/signals';
import { zone, now } from '../data/clock.js';
import type { AlarmBody } from '../data/bodies.js';
import { floodSince, missingAlarms, openAlarms } from '../data/plant.js';
import { isHidden, isWaiting, orderAlarms } from '../parts/alarm-words.js';
import { formatMoment } from '../times.js';
import { AlarmCard } from './alarm-card.js';

/** More cards than this are no list for a person; the rest is counted and found in the list of alarms. */
const CARDS_MOST = 50;

const ordered = computed(() => orderAlarms([...(openAlarms.value?.values() ?? [])]));
const waiting = computed(() =>
  ordered.value.filter((alarm) => isWaiting(alarm) && alarm.grouped_under === null),
);
const answered = computed(() =>
  ordered.value.filter((alarm) => !isWaiting(alarm) && !isHidden(alarm) && alarm.grouped_under === null),
);
const hiddenCount = computed(() => ordered.value.filter(isHidden).length);
const members = computed(() => {
  const counts = new Map<string, number>();
  for (const { grouped_under: group } of ordered.value)
    if (group !== null) counts.set(group, (counts.get(group) ?? 0) + 1);
  return counts;
});

function Cards({ alarms }: { alarms: readonly AlarmBody[] }) {
  return (
    <>
      {alarms.slice(0, CARDS_MOST).map((alarm) => (
        <AlarmCard key={alarm.id} alarm={alarm} members={members.value.get(alarm.id) ?? 0} />
      ))}
      {alarms.length > CARDS_MOST && (
        <p>
          And {alarms.length - CARDS_MOST} more: <a href="/alarms">see the list of alarms</a>.
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
  if (openAlarms.value === null) return <p class="quiet">Waiting for the gateway…</p>;
  return (
    <section class="answers" aria-labelledby="answers-title">
      <h1 id="answers-title">
        {waiting.value.length === 0 ? 'Nothing needs an answer' : `Needs an answer: ${waiting.value.length}`}
      </h1>
      <Flood />
      {missingAlarms.value !== null && (
        <p class="is-stale">Only the gateway's own alarms can be shown: {missingAlarms.value}.</p>
      )}
      <Cards alarms={waiting.value} />
      {answered.value.length > 0 && (
        <details class="answered">
          <summary>Answered, and still there: {answered.value.length}</summary>
          <Cards alarms={answered.value} />
        </details>
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
