/** The view "Before and after": one action, both periods, the ratio with its limits, and what stands behind it. */
import { useWhole } from '../parts/use-body.js';
import type { ActionRow, ActionsBody } from '../data/advice-bodies.js';
import { zone } from '../data/clock.js';
import { motorKeys, motorOf } from '../data/plant.js';
import { Moment } from '../parts/moment.js';
import { ProblemNote } from '../parts/problem-note.js';
import { describeAction } from '../../../shared/maintenance-terms.js';
import { openAddress, setParameters } from '../router.js';
import type { ScreenProps } from '../view.js';
import { PositionAnswer } from './position-answer.js';
import { nameWork } from './work-words.js';
import '../parts/view.css';
import './compare.css';

/** Newest first; withdrawn ones are no work that was done. */
function listStanding(body: ActionsBody): ActionRow[] {
  return body.actions.filter(({ withdrawn }) => withdrawn === null).reverse();
}

function MotorSelect({ motor }: { motor: string }) {
  return (
    <label>
      Motor
      <select
        class="short-choice"
        value={motor}
        onChange={(event) => openAddress(`/compare/${encodeURIComponent(event.currentTarget.value)}`)}
      >
        {motor === '' && <option value="">choose one</option>}
        {(motorKeys.value ?? []).map((key) => (
          <option key={key} value={key}>
            {key}
          </option>
        ))}
      </select>
    </label>
  );
}

function ActionSelect({ actions, chosen }: { actions: readonly ActionRow[]; chosen: ActionRow }) {
  return (
    <label>
      Work that was done
      <select value={chosen.id} onChange={(event) => setParameters({ action: event.currentTarget.value })}>
        {actions.map((action) => (
          <option key={action.id} value={action.id}>
            {nameWork(action, zone.value)}
          </option>
        ))}
      </select>
    </label>
  );
}

function Chosen({ motor, action }: { motor: string; action: ActionRow }) {
  const sensors = motorOf(motor).value?.sensors ?? [];
  return (
    <>
      <p>
        <strong>{describeAction(action)}</strong>, <Moment at={action.at} />, entered by {action.by}.
        {!action.is_remedy &&
          ' It is not meant to change the discharges; what differs may have other causes.'}
      </p>
      {sensors.map(({ sensor }) => (
        <PositionAnswer key={sensor} sensor={sensor} action={action} />
      ))}
      <p class="quiet">
        Each side reaches over four weeks at the most, and ends where other work would mix in. Only like
        conditions are compared; the ratio has 95 % limits. Evidence, not a diagnosis: a lower count is no
        proof that no current flows.
      </p>
    </>
  );
}

export function CompareScreen({ rest, query }: ScreenProps) {
  const motor = rest[0] ?? '';
  const { body, problem } = useWhole<ActionsBody>(
    motor === '' ? null : `/motors/${encodeURIComponent(motor)}/actions`,
    'actions',
  );
  const actions = body === null ? [] : listStanding(body);
  const asked = Number(query.get('action'));
  const chosen =
    actions.find(({ id }) => id === asked) ?? actions.find((each) => each.is_remedy) ?? actions[0];
  return (
    <>
      <header class="view-head">
        <h1>Before and after</h1>
        <div class="choices">
          <MotorSelect motor={motor} />
          {chosen !== undefined && <ActionSelect actions={actions} chosen={chosen} />}
        </div>
      </header>
      {problem !== null && <ProblemNote problem={problem} />}
      {motor === '' && <p>Choose the motor that was worked on.</p>}
      {body !== null && chosen === undefined && (
        <p class="compare-none">
          No work is on record for {motor}.{' '}
          <a href={`/motor/${encodeURIComponent(motor)}`}>Enter it at the motor</a>, and this view compares
          the counts before and after it.
        </p>
      )}
      {chosen !== undefined && <Chosen key={chosen.id} motor={motor} action={chosen} />}
    </>
  );
}
