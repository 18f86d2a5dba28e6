/**
 * Several alarms acknowledged together: what waits can be picked one by one or all at once, by touch or by the space bar, and one note
 * goes with all of them. Each is answered for itself.
 */
import { useEffect, useId, useLayoutEffect, useRef, useState } from 'preact/hooks';
import { HALT_KINDS } from '../../../shared/alarm-terms.js';
import { PICKED_MOST } from '../../../shared/limits.js';
import { ActFields, readText, stopRepeats } from '../acts/act-form.js';
import { acknowledgeMany, type ManyAnswer } from '../acts/alarm-acts.js';
import { toProblem, type ApiProblem } from '../data/api-client.js';
import type { AlarmBody } from '../data/bodies.js';
import { onLive } from '../data/live-events.js';
import { currentWho, login, mayAct } from '../data/session.js';
import { isWaiting } from '../parts/alarm-words.js';
import { ProblemNote } from '../parts/problem-note.js';

/** Whether it can be picked: it waits for somebody, and a person may answer it. */
export function isPickable(alarm: AlarmBody): boolean {
  return mayAct() && isWaiting(alarm) && !HALT_KINDS.includes(alarm.kind);
}

/** The cell of a row with its mark. The label is the target: a mark of its own is too small for a glove. */
export function PickCell(props: {
  readonly alarm: AlarmBody;
  readonly name: string;
  readonly isPicked: boolean;
  readonly onPick: (isPicked: boolean) => void;
}) {
  const { alarm, name, isPicked, onPick } = props;
  if (!isPickable(alarm)) return <td />;
  return (
    <td>
      <label class="pick">
        <input
          type="checkbox"
          checked={isPicked}
          aria-label={`Pick ${name}`}
          onChange={(event) => onPick(event.currentTarget.checked)}
        />
      </label>
    </td>
  );
}

interface BarProps {
  /** ids of those shown that can be picked, in the order of the list */
  readonly pickable: readonly string[];
  /** of these, those that are */
  readonly picked: readonly string[];
  /** how many were picked and wait no longer: somebody else was there first */
  readonly goneCount: number;
  readonly onPick: (ids: readonly string[]) => void;
}

function sayAnswer({ done }: ManyAnswer): string {
  return done === 1 ? '1 alarm is acknowledged.' : `${done} alarms are acknowledged.`;
}

/** Above the list: how many are picked, and what can be done to them. */
export function PickBar({ pickable, picked, goneCount, onPick }: BarProps) {
  const [isOpen, setOpen] = useState(false);
  const [answer, setAnswer] = useState<ManyAnswer | null>(null);
  const bar = useRef<HTMLDivElement>(null);
  if (pickable.length === 0 && answer === null && !isOpen) return null;
  const isAll = picked.length > 0 && picked.length === pickable.length;
  const end = (found: ManyAnswer | null): void => {
    setOpen(false);
    bar.current?.focus();
    if (found !== null) setAnswer(found);
    if (found !== null || picked.length === 0) onPick([]);
  };
  return (
    <div class="pick-bar" ref={bar} tabIndex={-1}>
      {pickable.length > 0 && (
        <div class="act-row">
          <button type="button" aria-pressed={isAll} onClick={() => onPick(isAll ? [] : pickable)}>
            {isAll ? 'Pick none' : `Pick all ${pickable.length} that wait`}
          </button>
          <button
            type="button"
            disabled={picked.length === 0 || picked.length > PICKED_MOST}
            aria-expanded={isOpen}
            onClick={() => setOpen(!isOpen)}
          >
            Acknowledge {picked.length}…
          </button>
        </div>
      )}
      {isOpen && picked.length + goneCount > 0 && <ManyForm {...{ picked, goneCount, onEnd: end }} />}
      <div role="status" class="act-said">
        {answer !== null && sayAnswer(answer)}
        {answer?.refused.map((says) => (
          <p key={says}>{says}</p>
        ))}
      </div>
    </div>
  );
}

/** Null: all that were picked still wait. */
export function sayGone(pickedCount: number, goneCount: number): string | null {
  if (goneCount === 0) return null;
  if (pickedCount === 0)
    return 'Meanwhile none of them waits any longer: somebody else was there first. What you wrote was not sent.';
  return `Meanwhile ${goneCount} of them ${goneCount === 1 ? 'waits' : 'wait'} no longer; ${pickedCount} still ${pickedCount === 1 ? 'does' : 'do'}.`;
}

interface FormProps {
  readonly picked: readonly string[];
  readonly goneCount: number;
  readonly onEnd: (answer: ManyAnswer | null) => void;
}

function ManyForm({ picked, goneCount, onEnd }: FormProps) {
  const [problem, setProblem] = useState<ApiProblem | null>(null);
  const [isSending, setSending] = useState(false);
  const titleId = useId();
  // a refusal because nobody answered is over when somebody does
  useEffect(() => onLive('again', () => setProblem(null)), []);
  const note = useRef('');
  const form = useRef<HTMLFormElement>(null);
  useLayoutEffect(() => {
    const next = currentWho() === '' ? 'input[name=who]' : 'button[type=submit]';
    form.current?.querySelector<HTMLElement>(next)?.focus();
  }, []);
  const gone = isSending ? null : sayGone(picked.length, goneCount);
  const submit = async (event: SubmitEvent & { currentTarget: HTMLFormElement }): Promise<void> => {
    event.preventDefault();
    if (isSending || picked.length === 0) return;
    const data = new FormData(event.currentTarget);
    const who = login.value ?? readText(data, 'who');
    setSending(true);
    try {
      const answer = await acknowledgeMany(picked, { who, note: readText(data, 'note') });
      onEnd(answer);
    } catch (error) {
      setProblem(toProblem(error));
      setSending(false);
    }
  };
  return (
    <form
      class="act-form"
      ref={form}
      aria-labelledby={titleId}
      onSubmit={(event) => void submit(event)}
      onKeyDown={(event) => {
        stopRepeats(event);
        if (event.key === 'Escape') onEnd(null);
      }}
    >
      <p id={titleId} class="act-form-title">
        <strong>Acknowledge {picked.length + goneCount}.</strong> You have seen them and take care of them.
        One note goes with all.
      </p>
      <ActFields act="acknowledge" note={note} />
      <p class={gone === null ? '' : 'todo'} role="status">
        {gone}
      </p>
      <div class="act-form-buttons">
        {picked.length > 0 && (
          <button type="submit" class="primary" aria-disabled={isSending}>
            Acknowledge {picked.length}
          </button>
        )}
        <button type="button" onClick={() => onEnd(null)}>
          Leave it
        </button>
      </div>
      {problem !== null && <ProblemNote problem={problem} />}
    </form>
  );
}
