/** The list of alarms with its filters, kept up to date by the live stream. */
import { useEffect, useState } from 'preact/hooks';
import { onLive } from '../data/live-events.js';
import type { AlarmBody, AlarmsBody } from '../data/bodies.js';
import { floodSince, motorOf, motorsByZone } from '../data/plant.js';
import { isWaiting, nameAlarm, namePlace, orderAlarms } from '../parts/alarm-words.js';
import { sayState } from '../parts/alarm-text.js';
import { Moment } from '../parts/moment.js';
import { PriorityMark } from '../parts/priority-mark.js';
import { ProblemNote } from '../parts/problem-note.js';
import { useWhole } from '../parts/use-body.js';
import { setParameters } from '../router.js';
import { beginTurn, endTurn, hearAlarm, NO_CHANGES } from './alarm-changes.js';
import { isPickable, PickBar, PickCell } from './alarm-selection.js';
import { fitsFilter, readFilter, SHOWS, type AlarmFilter } from './alarm-filter.js';

const ROWS_MOST = 200;

/** All alarms that were ever raised, by id; null: not loaded yet. */
function useAlarms() {
  const { body, problem } = useWhole<AlarmsBody>('/alarms', 'alarms');
  const [changes, setChanges] = useState(NO_CHANGES);
  useEffect(() => onLive('again', () => setChanges(beginTurn)), []);
  useEffect(() => setChanges(endTurn), [body]);
  useEffect(() => onLive('alarm', (alarm) => setChanges((last) => hearAlarm(last, alarm))), []);
  if (body === null) return { alarms: null, problem, missing: null };
  const known = new Map(body.alarms.map((alarm) => [alarm.id, alarm]));
  for (const [id, { alarm }] of changes.heard) known.set(id, alarm);
  return { alarms: [...known.values()], problem, missing: body.missing };
}

function Filters({ filter }: { filter: AlarmFilter }) {
  return (
    <form class="filters" aria-label="Filters" onSubmit={(event) => event.preventDefault()}>
      <label>
        Which
        <select value={filter.show} onChange={(event) => setParameters({ show: event.currentTarget.value })}>
          {Object.entries(SHOWS).map(([value, name]) => (
            <option key={value} value={value}>
              {name}
            </option>
          ))}
        </select>
      </label>
      <label>
        Priority
        <select
          value={filter.priority}
          onChange={(event) => setParameters({ priority: event.currentTarget.value })}
        >
          <option value="">any</option>
          <option value="high">high</option>
          <option value="medium">medium</option>
          <option value="low">low</option>
        </select>
      </label>
      <label>
        Area
        <select value={filter.zone} onChange={(event) => setParameters({ zone: event.currentTarget.value })}>
          <option value="">any</option>
          {[...motorsByZone.value.keys()].map((zone) => (
            <option key={zone} value={zone}>
              {zone}
            </option>
          ))}
        </select>
      </label>
      <label>
        Motor or kind
        <input
          type="search"
          value={filter.text}
          onInput={(event) => setParameters({ text: event.currentTarget.value })}
        />
      </label>
    </form>
  );
}

interface RowProps {
  readonly alarm: AlarmBody;
  readonly isPicked: boolean;
  readonly onPick: (isPicked: boolean) => void;
}

function Row({ alarm, isPicked, onPick }: RowProps) {
  const name = `${nameAlarm(alarm)}, ${namePlace(alarm)}`;
  return (
    <tr data-alarm={alarm.id}>
      <PickCell {...{ alarm, name, isPicked, onPick }} />
      <td>
        <PriorityMark priority={alarm.priority} isFilled={isWaiting(alarm)} />
      </td>
      <th scope="row">
        <a class="row-link" href={`/alarms/${encodeURIComponent(alarm.id)}`}>
          {nameAlarm(alarm)}
        </a>
        <span class="row-place">{namePlace(alarm)}</span>
      </th>
      <td>{sayState(alarm)}</td>
      <td>{alarm.since === null ? 'never raised' : <Moment at={alarm.since} />}</td>
      <td>{alarm.evidence?.says ?? alarm.note}</td>
    </tr>
  );
}

export function AlarmList({ query }: { query: URLSearchParams }) {
  const filter = readFilter(query);
  const { alarms, problem, missing } = useAlarms();
  const zoneOf = (motor: string): string => motorOf(motor).value?.zone ?? motor.replace(/^zone-/, '');
  const found = orderAlarms((alarms ?? []).filter((alarm) => fitsFilter(alarm, filter, zoneOf)));
  const [picks, setPicks] = useState<ReadonlySet<string>>(new Set());
  const shown = found.slice(0, ROWS_MOST);
  const pickable = shown.filter(isPickable).map(({ id }) => id);
  const pick = (id: string, isPicked: boolean): void =>
    setPicks((last) => new Set(isPicked ? [...last, id] : [...last].filter((each) => each !== id)));
  return (
    <section aria-labelledby="list-title" class="alarm-list">
      <h1 id="list-title">Alarms</h1>
      <Filters filter={filter} />
      {problem !== null && <ProblemNote problem={problem} />}
      {missing !== null && <p class="is-stale">Only the gateway's own alarms can be shown: {missing}.</p>}
      {floodSince.value !== null && (
        <p class="flood">
          <strong>A flood of alarms</strong> since <Moment at={floodSince.value} />.
        </p>
      )}
      <p role="status">
        {alarms === null ? 'Loading…' : found.length === 1 ? '1 alarm' : `${found.length} alarms`}
      </p>
      <PickBar
        pickable={pickable}
        picked={pickable.filter((id) => picks.has(id))}
        goneCount={(alarms ?? []).filter((alarm) => picks.has(alarm.id) && !isPickable(alarm)).length}
        onPick={(ids) => setPicks(new Set(ids))}
      />
      {found.length > 0 && (
        <div class="scroll" tabIndex={0} role="region" aria-label="List of alarms">
          <table>
            <thead>
              <tr>
                <th scope="col">Pick</th>
                <th scope="col">Priority</th>
                <th scope="col">Alarm</th>
                <th scope="col">State</th>
                <th scope="col">Since</th>
                <th scope="col">Why</th>
              </tr>
            </thead>
            <tbody>
              {shown.map((alarm) => (
                <Row
                  key={alarm.id}
                  alarm={alarm}
                  isPicked={picks.has(alarm.id)}
                  onPick={(isPicked) => pick(alarm.id, isPicked)}
                />
              ))}
            </tbody>
          </table>
        </div>
      )}
      {found.length > ROWS_MOST && <p>The first {ROWS_MOST} are shown: narrow the filters to see others.</p>}
    </section>
  );
}
