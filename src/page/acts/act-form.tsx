/**
 * The second gesture of an act: a small form under the alarm with the name remembered, room for a note, and one button. A
 * shelf has a button for each length, so that it too takes two gestures.
 */
import { useId, useLayoutEffect, useRef, useState } from 'preact/hooks';
import { toProblem, type ApiProblem } from '../data/api-client.js';
import { login, typedWho } from '../data/session.js';
import { ProblemNote } from '../parts/problem-note.js';
import { WhoField } from '../parts/who-field.js';
import { HOUR_MS } from '../times.js';
import { ACT_WORDS, perform, type Act } from './alarm-acts.js';

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
  readonly alarm: string;
  /** acted, or given up */
  readonly onEnd: (isDone: boolean) => void;
}

export function readText(data: FormData, name: string): string {
  const value = data.get(name);
  return typeof value === 'string' ? value.trim() : '';
}

export function ActForm({ act, alarm, onEnd }: Props) {
  const [problem, setProblem] = useState<ApiProblem | null>(null);
  const [isSending, setSending] = useState(false);
  const form = useRef<HTMLFormElement>(null);
  const titleId = useId();
  const words = ACT_WORDS[act];
  // before the next key or touch can come: on a slow machine it would fall on the button that opened the form
  useLayoutEffect(() => {
    // the second gesture lies under the finger: on the button when the name is known, on the name when it is not
    const isKnown = login.value !== null || typedWho.value !== '';
    form.current?.querySelector<HTMLElement>(isKnown ? 'button[type=submit]' : 'input[name=who]')?.focus();
  }, []);
  const submit = async (event: SubmitEvent & { currentTarget: HTMLFormElement }): Promise<void> => {
    event.preventDefault();
    const data = new FormData(event.currentTarget, event.submitter);
    const who = login.value ?? readText(data, 'who');
    const forMs = data.get('for');
    setSending(true);
    try {
      await perform(act, alarm, {
        ...{ who, note: readText(data, 'note') },
        ...(forMs === null ? {} : { forMs: Number(forMs), once: data.get('once') !== null }),
      });
      onEnd(true);
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
      onKeyDown={(event) => event.key === 'Escape' && onEnd(false)}
    >
      <p id={titleId} class="act-form-title">
        <strong>{words.name}.</strong> {words.says}
      </p>
      <ActFields act={act} />
      {act === 'shelve' && (
        <label class="beside">
          <input type="checkbox" name="once" value="yes" /> until it returns, if that comes first
        </label>
      )}
      <div class="act-form-buttons">
        <SubmitButtons act={act} isSending={isSending} />
        <button type="button" onClick={() => onEnd(false)}>
          Leave it
        </button>
      </div>
      {problem !== null && <ProblemNote problem={problem} />}
    </form>
  );
}

/** Who, where nobody is logged in, and why. */
export function ActFields({ act }: { act: Act }) {
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
          defaultValue={USUAL_REASONS[act] ?? ''}
        />
      </label>
    </div>
  );
}

function SubmitButtons({ act, isSending }: { act: Act; isSending: boolean }) {
  if (act !== 'shelve')
    return (
      <button type="submit" class="primary" disabled={isSending}>
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
          disabled={isSending}
        >
          For {name}
        </button>
      ))}
    </>
  );
}
