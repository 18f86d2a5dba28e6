/** One alarm: what it says, what it asks for, what it was decided on, what can be done, and its past. */
import { useEffect, useState } from 'preact/hooks';
import { ActButtons } from '../acts/act-buttons.js';
import type { AlarmBody } from '../data/bodies.js';
import { now, zone } from '../data/clock.js';
import { onLive } from '../data/live-events.js';
import { isWaiting, nameAlarm, namePlace } from '../parts/alarm-words.js';
import { motorOf } from '../data/plant.js';
import { sayActs } from '../parts/alarm-text.js';
import { PriorityMark } from '../parts/priority-mark.js';
import { ProblemNote } from '../parts/problem-note.js';
import { StateSince } from '../parts/state-since.js';
import { useBody } from '../parts/use-body.js';
import { formatSpan } from '../times.js';
import { EvidencePart } from './evidence-part.js';
import { beginTurn, endTurn, hearAlarm, NO_CHANGES } from './alarm-changes.js';
import { AlarmPast } from './alarm-past.js';

/** As the gateway has it, then as the stream changes it; an answer to an act comes through the stream too. */
function useAlarm(id: string) {
  const { body, problem, reload } = useBody<AlarmBody>(`/alarms/${encodeURIComponent(id)}`);
  const [changes, setChanges] = useState(NO_CHANGES);
  useEffect(() => onLive('again', () => setChanges(beginTurn)), []);
  useEffect(() => setChanges(endTurn), [body]);
  useEffect(
    () => onLive('alarm', (alarm) => alarm.id === id && setChanges((last) => hearAlarm(last, alarm))),
    [id],
  );
  return { alarm: changes.heard.get(id)?.alarm ?? body, problem, reload };
}

const ALL_ACTS = 7;

export function AlarmDetail({ id }: { id: string }) {
  const { alarm, problem } = useAlarm(id);
  if (problem !== null && alarm === null) return <ProblemNote problem={problem} />;
  if (alarm === null) return <p class="quiet">Loading…</p>;
  return (
    <article class="alarm-detail">
      <header>
        <h1>
          {nameAlarm(alarm)} <span class="row-place">{namePlace(alarm)}</span>
        </h1>
        <PriorityMark priority={alarm.priority} isFilled={isWaiting(alarm)} />
        <p class="alarm-state">
          <StateSince alarm={alarm} />
        </p>
        {motorOf(alarm.motor).value !== null && (
          <a class="target-link" href={`/motor/${alarm.motor}`}>
            See the motor {alarm.motor}
          </a>
        )}
      </header>
      {alarm.action !== '' && (
        <p class="alarm-do">
          <strong>Do:</strong> {alarm.action}
        </p>
      )}
      <Guidance alarm={alarm} />
      <p>{sayActs(alarm, now.peek(), zone.value).join(' ')}</p>
      <ActButtons alarm={alarm} most={ALL_ACTS} />
      {alarm.evidence !== null && <EvidencePart evidence={alarm.evidence} />}
      <AlarmPast id={id} />
    </article>
  );
}

/** What the site has written down about it. */
function Guidance({ alarm }: { alarm: AlarmBody }) {
  const rows: [string, string][] = [
    ['If nobody acts', alarm.consequence],
    ['Why it is set so', alarm.rationale],
    ['Answer within', alarm.time_to_respond_ms === null ? '' : formatSpan(alarm.time_to_respond_ms)],
    ['Class', alarm.class],
    ['Id', alarm.id],
  ];
  return (
    <dl class="facts">
      {rows
        .filter(([, text]) => text !== '')
        .map(([name, text]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{text}</dd>
          </div>
        ))}
    </dl>
  );
}
