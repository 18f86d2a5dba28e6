/**
 * Rehearsal of changed setpoints: the stored past is played again under another configuration, and what it would have raised
 * is drawn beside what was raised. Nothing of the running gateway changes.
 */
import { useRef, useState } from 'preact/hooks';
import { fetchBody, toProblem } from '../data/api-client.js';
import type { Candidate } from '../data/bodies.js';
import { mayChange } from '../data/session.js';
import { ProblemNote } from '../parts/problem-note.js';
import { OutcomePicture } from './outcome-picture.js';
import { spanStart, SpanChoice } from './rehearsal-span.js';
import { SetpointForm } from './setpoint-form.js';
import { useRehearsal, type RehearsalState } from './rehearsal-jobs.js';

const CHARACTERS_MOST = 500_000;

function CandidateForm({ state }: { state: RehearsalState }) {
  const text = useRef<HTMLTextAreaElement>(null);
  const [fault, setFault] = useState('');
  const takeFile = async (file: File | undefined): Promise<void> => {
    if (file === undefined || text.current === null) return;
    if (file.size > CHARACTERS_MOST) return setFault(`The file is larger than ${CHARACTERS_MOST / 1000} kB.`);
    setFault('');
    text.current.value = await file.text();
  };
  const takeRunning = async (): Promise<void> => {
    try {
      const { configuration } = await fetchBody<Candidate>('/rehearsals/candidate');
      if (text.current !== null) text.current.value = configuration;
      setFault('');
    } catch (error) {
      const { message, hint } = toProblem(error);
      setFault(`${message} ${hint}`);
    }
  };
  const submit = (event: SubmitEvent & { currentTarget: HTMLFormElement }): void => {
    event.preventDefault();
    void state.begin({ configuration: text.current?.value ?? '', from: spanStart(event.currentTarget) });
  };
  return (
    <form class="candidate panel" onSubmit={submit}>
      <p>
        Give the configuration file as it would be, with other setpoints, delays or budgets. It is checked
        first; it is not put in force.
      </p>
      <div class="act-form-buttons">
        <button type="button" onClick={() => void takeRunning()}>
          Begin with the present file
        </button>
      </div>
      <CandidateSource onFile={(file) => void takeFile(file)} />
      <label>
        Text of the file
        <textarea
          ref={text}
          name="configuration"
          required
          rows={10}
          spellcheck={false}
          maxLength={CHARACTERS_MOST}
        />
      </label>
      {fault !== '' && <p class="problem">{fault}</p>}
      <div class="act-form-buttons">
        <button type="submit" class="primary" disabled={state.job?.state === 'running'}>
          Rehearse
        </button>
      </div>
    </form>
  );
}

/** Another file than the present one, and how much of the past is played. */
function CandidateSource({ onFile }: { onFile: (file: File | undefined) => void }) {
  return (
    <div class="filters">
      <label>
        or a file of yours
        <input
          type="file"
          accept=".yaml,.yml,text/yaml"
          onChange={(event) => onFile(event.currentTarget.files?.[0])}
        />
      </label>
      <SpanChoice />
    </div>
  );
}

function Progress({ state }: { state: RehearsalState }) {
  const { job } = state;
  if (job === null) return null;
  if (job.state === 'running')
    return (
      <p role="status">
        <progress value={job.share} max={1} aria-label="Played so far" /> {(100 * job.share).toFixed(0)} %
        played{' '}
        <button type="button" onClick={() => void state.cancel()}>
          Cancel
        </button>
      </p>
    );
  if (job.state === 'cancelled') return <p role="status">The last rehearsal was cancelled.</p>;
  if (job.failure !== null)
    return (
      <p class="problem" role="status">
        {job.failure.detail} {job.failure.hint}
      </p>
    );
  return null;
}

export function RehearsalPart() {
  const state = useRehearsal();
  const result = state.job?.result ?? null;
  return (
    <section aria-labelledby="rehearsal-title" class="rehearsal">
      <h1 id="rehearsal-title">Rehearse setpoints</h1>
      {mayChange() ? (
        <>
          <SetpointForm state={state} />
          <details>
            <summary>By the text of the whole file, for experts</summary>
            <CandidateForm state={state} />
          </details>
          {state.problem !== null && <ProblemNote problem={state.problem} />}
        </>
      ) : (
        <p>A rehearsal is begun by a login with the role engineer; its result can be read here.</p>
      )}
      <Progress state={state} />
      {result !== null && <OutcomePicture outcome={result} />}
    </section>
  );
}
