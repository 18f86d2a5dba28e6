/** Entering work that was done, or what an inspection found. Nothing is changed or erased later, only withdrawn. */
import { useState } from 'preact/hooks';
import { ACTION_KINDS, ACTIONS, BEARING_KINDS, BEARING_WORK } from '../../../shared/maintenance-terms.js';
import { FAILURE_MODES, LUBRICANT_CONDITIONS, VISIBLE_SIGNS } from '../../../shared/inspection-terms.js';
import { postBody, toProblem, type ApiProblem } from '../data/api-client.js';
import { readNow, zone } from '../data/clock.js';
import { currentWho, rememberWho } from '../data/session.js';
import { namePosition } from '../parts/alarm-words.js';
import { ProblemNote } from '../parts/problem-note.js';
import { latestLocal, readEntryMoment, writeLocal } from './entry-moment.js';

interface Entered {
  readonly path: string;
  readonly body: object;
}

function textOf(form: FormData, name: string): string {
  const value = form.get(name);
  return typeof value === 'string' ? value.trim() : '';
}

function listOf(form: FormData, name: string): string[] {
  return form.getAll(name).filter((value): value is string => typeof value === 'string' && value !== '');
}

/** `begunAt`: the moment that the field of the time began with. */
function common(form: FormData, begunAt: number): { at: number; by: string; note: string } {
  const at = readEntryMoment(textOf(form, 'at'), begunAt, zone.value, readNow());
  return { at, by: textOf(form, 'by'), note: textOf(form, 'note') };
}

/** `required`: the word of an empty value is no answer. */
function Field({
  name,
  title,
  words,
  required = false,
  onChoice,
}: {
  name: string;
  title: string;
  words: readonly (readonly [string, string])[];
  required?: boolean;
  onChoice?: (value: string) => void;
}) {
  return (
    <label>
      {title}
      <select name={name} required={required} onChange={(event) => onChoice?.(event.currentTarget.value)}>
        {words.map(([value, word]) => (
          <option key={value} value={value}>
            {word}
          </option>
        ))}
      </select>
    </label>
  );
}

function Choices({
  name,
  title,
  words,
}: {
  name: string;
  title: string;
  words: readonly (readonly [string, string])[];
}) {
  return (
    <fieldset>
      <legend>{title}</legend>
      {words.map(([value, word]) => (
        <label class="beside" key={value}>
          <input type="checkbox" name={name} value={value} /> {word}
        </label>
      ))}
    </fieldset>
  );
}

const spaced = (words: readonly string[]): (readonly [string, string])[] =>
  words.map((word) => [word, word.replaceAll('-', ' ')]);

/** When, who and a note; see `common`. */
function CommonFields({ begunAt }: { begunAt: number }) {
  return (
    <>
      <label>
        When, {zone.value}
        <input
          type="datetime-local"
          name="at"
          max={latestLocal(readNow(), zone.value)}
          defaultValue={writeLocal(begunAt, zone.value)}
        />
      </label>
      <label>
        Name or initials
        <input name="by" required maxLength={64} defaultValue={currentWho()} autocomplete="name" />
      </label>
      <label class="wide">
        Note
        <textarea name="note" maxLength={500} rows={2} />
      </label>
    </>
  );
}

/** The fields that every entry has, and the button. */
function EntryForm({
  title,
  toEntry,
  onEntered,
  children,
}: {
  title: string;
  /** `begunAt`: see `common` */
  toEntry: (form: FormData, begunAt: number) => Entered;
  onEntered: () => void;
  children: preact.ComponentChildren;
}) {
  const [problem, setProblem] = useState<ApiProblem | null>(null);
  const [said, setSaid] = useState('');
  const [isSending, setSending] = useState(false);
  // what the field of the time begins with, as the moment that it is
  const [begunAt, setBegunAt] = useState(readNow);
  const send = async (element: HTMLFormElement): Promise<void> => {
    const form = new FormData(element);
    const { path, body } = toEntry(form, begunAt);
    rememberWho(textOf(form, 'by'));
    setSending(true);
    try {
      await postBody(path, body);
      setProblem(null);
      setSaid('Entered.');
      element.reset();
      setBegunAt(readNow());
      onEntered();
    } catch (error) {
      setProblem(toProblem(error));
      setSaid('');
    } finally {
      setSending(false);
    }
  };
  return (
    <details class="entry" onToggle={(event) => event.currentTarget.open && setBegunAt(readNow())}>
      <summary>{title}</summary>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          void send(event.currentTarget);
        }}
      >
        {children}
        <CommonFields begunAt={begunAt} />
        <button class="primary" type="submit" disabled={isSending}>
          {title}
        </button>
        {problem !== null && <ProblemNote problem={problem} />}
        <p role="status">{said}</p>
      </form>
    </details>
  );
}

function endWords(positions: readonly string[]): (readonly [string, string])[] {
  const places = [...new Set(['de', 'nde', ...positions])];
  return places.map((place) => [place, namePosition(place)]);
}

export function ActionForm({
  motor,
  positions,
  onEntered,
}: {
  motor: string;
  positions: readonly string[];
  onEntered: () => void;
}) {
  const [kind, setKind] = useState<string>(ACTION_KINDS[0]);
  const isOnBearing = BEARING_WORK.some((each) => each === kind);
  const toEntry = (form: FormData, begunAt: number): Entered => {
    const action = textOf(form, 'action');
    const end = textOf(form, 'end');
    const body = {
      ...common(form, begunAt),
      ...{ action, end: end === '' ? null : end },
      bearing: textOf(form, 'bearing') || null,
    };
    return { path: `/motors/${motor}/actions`, body };
  };
  return (
    <EntryForm
      title="Enter work done"
      toEntry={toEntry}
      onEntered={() => {
        // the form has begun anew, and so has what it is of
        setKind(ACTION_KINDS[0]);
        onEntered();
      }}
    >
      <Field
        name="action"
        title="What"
        words={ACTION_KINDS.map((each) => [each, ACTIONS[each].title])}
        onChoice={setKind}
      />
      <Field
        name="end"
        title="Where"
        required={isOnBearing}
        words={[
          ['', isOnBearing ? 'choose the end' : 'the whole motor'],
          ...endWords(positions),
          ['both', 'both ends'],
        ]}
      />
      {isOnBearing && (
        <Field
          name="bearing"
          title="Replaced by"
          required
          words={[['', 'choose the kind'], ...spaced(BEARING_KINDS)]}
        />
      )}
    </EntryForm>
  );
}

export function FindingForm({
  motor,
  positions,
  onEntered,
}: {
  motor: string;
  positions: readonly string[];
  onEntered: () => void;
}) {
  const toEntry = (form: FormData, begunAt: number): Entered => ({
    path: `/motors/${motor}/findings`,
    body: {
      ...common(form, begunAt),
      ...{ end: textOf(form, 'end'), removed: form.get('removed') !== null },
      ...{ modes: listOf(form, 'modes'), signs: listOf(form, 'signs'), lubricant: listOf(form, 'lubricant') },
    },
  });
  const modes = Object.entries(FAILURE_MODES).map(([mode, { title }]) => [mode, title] as const);
  return (
    <EntryForm title="Enter a finding" toEntry={toEntry} onEntered={onEntered}>
      <Field name="end" title="Bearing" words={endWords(positions)} />
      <Field name="modes" title="Failure mode" words={[['', 'not judged'], ...modes]} />
      <label class="beside">
        <input type="checkbox" name="removed" /> the bearing that was taken out
      </label>
      <Choices name="signs" title="Seen on the raceways" words={spaced(VISIBLE_SIGNS)} />
      <Choices name="lubricant" title="Lubricant" words={spaced(LUBRICANT_CONDITIONS)} />
    </EntryForm>
  );
}
