/** The runs of commissioning that were kept for a motor, and the beginning of another one. */
import { useState } from 'preact/hooks';
import { fetchBody, postBody, toProblem, type ApiProblem } from '../data/api-client.js';
import { currentWho, mayChange } from '../data/session.js';
import type { RunBody, RunsBody } from '../data/station-bodies.js';
import { usePolled } from '../data/use-polled.js';
import { Moment } from '../parts/moment.js';
import { ProblemNote } from '../parts/problem-note.js';
import { VerdictSign } from '../parts/verdict-sign.js';
import { WhoField } from '../parts/who-field.js';
import { openAddress } from '../router.js';
import { RUN_WORDS } from './run-words.js';
import { ColumnHeads } from '../parts/column-heads.js';

const SHOWN_MOST = 20;
const NOTE_CHARACTERS_MOST = 500;
const EVERY_MS = 15_000;

export function runAddress(motor: string, id: number): string {
  return `/wiring/${encodeURIComponent(motor)}/run/${id}`;
}

function BeginForm({ motor }: { motor: string }) {
  const [problem, setProblem] = useState<ApiProblem | null>(null);
  const [isSending, setSending] = useState(false);
  const submit = async (event: SubmitEvent & { currentTarget: HTMLFormElement }): Promise<void> => {
    event.preventDefault();
    const note = new FormData(event.currentTarget).get('note') as string;
    setSending(true);
    try {
      const run = await postBody<RunBody>('/commissioning', {
        motor,
        who: currentWho().trim(),
        note: note.trim(),
      });
      openAddress(runAddress(motor, run.id));
    } catch (error) {
      setProblem(toProblem(error));
      setSending(false);
    }
  };
  return (
    <form class="run-form" onSubmit={(event) => void submit(event)}>
      <WhoField />
      <label class="run-note">
        Note (may stay empty)
        <input name="note" maxLength={NOTE_CHARACTERS_MOST} />
      </label>
      <button type="submit" class="primary" disabled={isSending}>
        Begin commissioning
      </button>
      {problem !== null && <ProblemNote problem={problem} />}
    </form>
  );
}

function RunLine({ run }: { run: RunsBody['runs'][number] }) {
  const [kind, word] = RUN_WORDS[run.state];
  return (
    <tr>
      <th scope="row">
        <a class="target-link" href={runAddress(run.motor, run.id)}>
          Run {run.id}
        </a>
      </th>
      <td>
        <VerdictSign kind={kind} word={word} />
      </td>
      <td>
        <Moment at={run.closed_at ?? run.opened_at} />
      </td>
      <td>{run.closed_by === '' ? run.opened_by : run.closed_by}</td>
      <td class="station-text">{run.note}</td>
    </tr>
  );
}

export function RunList({ motor }: { motor: string }) {
  const { body, problem } = usePolled(
    `runs ${motor}`,
    (signal) => fetchBody<RunsBody>('/commissioning', { motor, limit: SHOWN_MOST }, signal),
    EVERY_MS,
  );
  const open = body?.runs.find(({ state }) => state === 'open') ?? null;
  return (
    <section class="panel runs" aria-labelledby="runs-title">
      <h2 id="runs-title">Commissioning</h2>
      <p>
        A guided round at the motor: start it, stop it, make sparks near each sensor, and see here what was
        heard. The result is kept with who and when, and can be printed.
      </p>
      {problem !== null && <ProblemNote problem={problem} />}
      {open !== null && (
        <p>
          <a class="button" href={runAddress(motor, open.id)}>
            {mayChange() ? 'Go on with' : 'Look at'} run {open.id}
          </a>
        </p>
      )}
      {body !== null && open === null && mayChange() && <BeginForm motor={motor} />}
      {!mayChange() && <p class="quiet">A run is begun by a login with the role engineer.</p>}
      {body !== null && body.runs.length > 0 && (
        <div class="scroll" tabIndex={0} role="region" aria-label="Runs that were kept">
          <table>
            <ColumnHeads titles={['Run', 'Result', 'When', 'Who', 'Note']} />
            <tbody>
              {body.runs.map((run) => (
                <RunLine key={run.id} run={run} />
              ))}
            </tbody>
          </table>
        </div>
      )}
    </section>
  );
}
