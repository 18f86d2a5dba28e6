/** Somebody lets the gateway go on although its clock is doubted: asked twice, because what it takes in then cannot be dated anew. */
import { useState } from 'preact/hooks';
import { postBody, toProblem, type ApiProblem } from '../data/api-client.js';
import { currentWho } from '../data/session.js';
import { ProblemNote } from '../parts/problem-note.js';
import { WhoField } from '../parts/who-field.js';

const WHAT_IT_DOES =
  'Readings are taken in again, and dated by the clock as the gateway has it then; where the machine lies before what is stored, ' +
  'time goes on from there. Times may be off by as much as the clock is. That you did this stands in the journal.';

export function ClockForm({ onChange }: { onChange: () => void }) {
  const [isOpen, setOpen] = useState(false);
  const [isSending, setSending] = useState(false);
  const [problem, setProblem] = useState<ApiProblem | null>(null);
  const submit = async (event: SubmitEvent): Promise<void> => {
    event.preventDefault();
    setSending(true);
    try {
      await postBody('/gateway/clock/go-on', { who: currentWho().trim() });
      setOpen(false);
      setProblem(null);
      onChange();
    } catch (error) {
      setProblem(toProblem(error));
    } finally {
      setSending(false);
    }
  };
  if (!isOpen)
    return (
      <p>
        <button type="button" onClick={() => setOpen(true)}>
          Let it go on with this clock…
        </button>
      </p>
    );
  return (
    <form class="gateway-form" onSubmit={(event) => void submit(event)}>
      <p>{WHAT_IT_DOES}</p>
      <WhoField />
      <button type="submit" class="primary" disabled={isSending}>
        Let it go on
      </button>
      <button type="button" disabled={isSending} onClick={() => setOpen(false)}>
        Not now
      </button>
      {problem !== null && <ProblemNote problem={problem} />}
    </form>
  );
}
