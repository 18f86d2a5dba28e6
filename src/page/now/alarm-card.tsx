/** One alarm that needs an answer: how urgent, where, since when, why, and what to do. */
import { now, zone } from '../data/clock.js';
import type { AlarmBody } from '../data/bodies.js';
import { ActButtons } from '../acts/act-buttons.js';
import { isWaiting, nameAlarm, namePlace } from '../parts/alarm-words.js';
import { sayActs } from '../parts/alarm-text.js';
import { PriorityMark } from '../parts/priority-mark.js';
import { StateSince } from '../parts/state-since.js';
import { DAY_MS, formatSpan } from '../times.js';

/** A week to answer is no news. */
const DUE_SHOWN_MS = DAY_MS;

/** Time left to begin the action, where the site states one and the alarm was told. */
function Due({ alarm }: { alarm: AlarmBody }) {
  if (alarm.time_to_respond_ms === null || alarm.annunciated_at === null || !isWaiting(alarm)) return null;
  const leftMs = Date.parse(alarm.annunciated_at) + alarm.time_to_respond_ms - now.value;
  if (leftMs > DUE_SHOWN_MS) return null;
  if (leftMs > 0) return <span class="alarm-due">answer within {formatSpan(leftMs)}</span>;
  return <span class="alarm-due is-late">answer overdue by {formatSpan(-leftMs)}</span>;
}

/** `members`: how many alarms this one stands for. */
export function AlarmCard({ alarm, members }: { alarm: AlarmBody; members: number }) {
  const waits = isWaiting(alarm);
  return (
    <article
      aria-label={`${nameAlarm(alarm)}, ${namePlace(alarm)}`}
      class={`alarm-card of-${alarm.priority} ${waits ? 'is-waiting' : ''}`}
      data-alarm={alarm.id}
    >
      <PriorityMark priority={alarm.priority} isFilled={waits} />
      <div class="alarm-body">
        <header>
          <h2>
            <a href={`/alarms/${encodeURIComponent(alarm.id)}`}>{nameAlarm(alarm)}</a>
            <span class="alarm-place">{namePlace(alarm)}</span>
          </h2>
          <p class="alarm-when">
            <StateSince alarm={alarm} /> <Due alarm={alarm} />
          </p>
        </header>
        {alarm.evidence !== null && <p class="alarm-says">{alarm.evidence.says}</p>}
        {alarm.action !== '' && (
          <p class="alarm-do">
            <strong>Do:</strong> {alarm.action}
          </p>
        )}
        {members > 0 && (
          <p class="quiet">
            It stands for{' '}
            <a class="target-link" href={`/alarms?text=${encodeURIComponent(alarm.id)}`}>
              {members} more {members === 1 ? 'alarm' : 'alarms'} with the same cause
            </a>
          </p>
        )}
        <ActsSaid alarm={alarm} />
      </div>
      <ActButtons alarm={alarm} most={2} />
    </article>
  );
}

function ActsSaid({ alarm }: { alarm: AlarmBody }) {
  const said = sayActs(alarm, now.peek(), zone.value);
  return said.length === 0 ? null : <p class="quiet">{said.join(' ')}</p>;
}
