/**
 * The second gesture of an act: a small form under the alarm with the name remembered, room for a note, and one button. A
 * shelf has a button for each length, so that it too takes two gestures.
 */
import type { RefObject } from 'preact';
import { useEffect, useId, useLayoutEffect, useRef, useState } from 'preact/hooks';
import { toProblem, type ApiProblem } from '../data/api-client.js';
import type { AlarmBody } from '../data/bodies.js';
import { onLive } from '../data/live-events.js';
import { currentWho, login } from '../data/session.js';
import { nameAlarm, namePlace } from '../parts/alarm-words.js';
import { ProblemNote } from '../parts/problem-note.js';
import { WhoField } from '../parts/who-field.js';
import { HOUR_MS } from '../times.js';
import { ACT_WORDS, perform, type Act } from './alarm-acts.js';
import { sayMeanwhile } from './meanwhile.js';

export const NOTE_CHARACTERS_MOST = 500;
const SHELVES = [
  ['1 h', HOUR_MS],
  ['4 h', 4 * HOUR_MS],
  ['8 h', 8 * HOUR_MS],
  ['24 h', 24 * HOUR_MS],
] as const;
/** Offered so that a gloved hand need not type; whoever knows better types over it. */
const USUAL_REASONS: Readonly<Partial<Record<Act, string>>> = {
  shelve: 'being worked on',
  'out-of-service': 'sensor or motor out of use',
};

interface Props {
  readonly act: Act;
  readonly alarm: AlarmBody;
  /** what was typed so far: it goes on to another form of the same alarm */
  readonly note: RefObject<string>;
  /** acted, or given up */
  readonly onEnd: (isDone: boolean) => void;
}

export function readText(data: FormData, name: string): string {
  const value = data.get(name);
  return typeof value === 'string' ? value.trim() : '';
}

/** A key that is held down goes on pressing whatever has the focus by then: that is nobody's answer. */
export function stopRepeats(event: KeyboardEvent): void {
  if (event.repeat && event.key === 'Enter') event.preventDefault();
}

export function ActForm({ act, alarm, note, onEnd }: Props) {
  const [problem, setProblem] = useState<ApiProblem | null>(null);
  const [isSending, setSending] = useState(false);
  const form = useRef<HTMLFormElement>(null);
  const titleId = useId();
  // a refusal because nobody answered is over when somebody does
  useEffect(() => onLive('again', () => setProblem(null)), []);
  const words = ACT_WORDS[act];
  // before the next key or touch can come: on a slow machine it would fall on the button that opened the form
  useLayoutEffect(() => {
    // the second gesture lies under the finger: on the button when the name is known, on the name when it is not
    const isKnown = currentWho() !== '';
    form.current?.querySelector<HTMLElement>(isKnown ? 'button[type=submit]' : 'input[name=who]')?.focus();
  }, []);
  const submit = async (event: SubmitEvent & { currentTarget: HTMLFormElement }): Promise<void> => {
    event.preventDefault();
    if (isSending) return;
    const data = new FormData(event.currentTarget, event.submitter);
    const who = login.value ?? readText(data, 'who');
    const forMs = data.get('for');
    setSending(true);
    try {
      await perform(act, alarm.id, {
        ...{ who, note: readText(data, 'note') },
        ...(forMs === null ? {} : { forMs: Number(forMs), once: data.get('once') !== null }),
      });
      onEnd(true);
    } catch (error) {
      setProblem(toProblem(error));
      setSending(false);
    }
  };
  const meanwhile = isSending ? null : sayMeanwhile(act, alarm, currentWho());
  return (
    <form
      class="act-form"
      ref={form}
      aria-labelledby={titleId}
      onSubmit={(event) => void submit(event)}
      onKeyDown={(event) => {
        stopRepeats(event);
        // what is under way cannot be taken back: its end closes the form
        if (event.key === 'Escape' && !isSending) onEnd(false);
      }}
    >
      <p id={titleId} class="act-form-title">
        <strong>
          {words.name}: {nameAlarm(alarm)}, {namePlace(alarm)}.
        </strong>{' '}
        {words.says}
      </p>
      <ActFields act={act} note={note} />
      <p class={meanwhile === null ? '' : 'todo'} role="status">
        {meanwhile !== null && `${meanwhile} What you wrote was not sent.`}
      </p>
      {act === 'shelve' && (
        <label class="beside">
          <input type="checkbox" name="once" value="yes" /> until it returns, if that comes first
        </label>
      )}
      <div class="act-form-buttons">
        {meanwhile === null && <SubmitButtons act={act} isSending={isSending} />}
        <button type="button" onClick={() => onEnd(false)}>
          Leave it
        </button>
      </div>
      {problem !== null && <ProblemNote problem={problem} />}
    </form>
  );
}

/** Who, where nobody is logged in, and why. */
export function ActFields({ act, note }: { act: Act; note: RefObject<string> }) {
  const { isNoteNeeded } = ACT_WORDS[act];
  return (
    <div class="act-form-fields">
      <WhoField />
      <label class="act-form-note">
        {isNoteNeeded ? 'Why' : 'Note (may stay empty)'}
        <input
          name="note"
          maxLength={NOTE_CHARACTERS_MOST}
          required={isNoteNeeded}
          defaultValue={note.current === '' ? (USUAL_REASONS[act] ?? '') : (note.current ?? '')}
          onInput={(event) => void (note.current = event.currentTarget.value)}
        />
      </label>
    </div>
  );
}

function SubmitButtons({ act, isSending }: { act: Act; isSending: boolean }) {
  if (act !== 'shelve')
    return (
      <button type="submit" class="primary" aria-disabled={isSending}>
        {ACT_WORDS[act].name}
      </button>
    );
  return (
    <>
      {SHELVES.map(([name, ms], place) => (
        <button
          key={name}
          type="submit"
          name="for"
          value={ms}
          class={place === 0 ? 'primary' : ''}
          aria-disabled={isSending}
        >
          For {name}
        </button>
      ))}
    </>
  );
}
