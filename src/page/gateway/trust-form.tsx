/** A person lets the gateway go on with a clock that it doubts: nothing is taken in until then, or until the clock is right. */
import { useState } from 'preact/hooks';
import { postBody, toProblem, type ApiProblem } from '../data/api-client.js';
import { currentWho } from '../data/session.js';
import { ProblemNote } from '../parts/problem-note.js';
import { WhoField } from '../parts/who-field.js';

const NOTE_CHARACTERS_MOST = 500;

export function TrustForm() {
  const [problem, setProblem] = useState<ApiProblem | null>(null);
  const [isSending, setSending] = useState(false);
  const submit = async (event: SubmitEvent & { currentTarget: HTMLFormElement }): Promise<void> => {
    event.preventDefault();
    const note = new FormData(event.currentTarget).get('note') as string;
    setSending(true);
    try {
      await postBody('/gateway/trust-clock', { who: currentWho().trim(), note: note.trim() });
      setProblem(null);
    } catch (error) {
      setProblem(toProblem(error));
    }
    setSending(false);
  };
  return (
    <form class="trust-form" onSubmit={(event) => void submit(event)}>
      <p>
        Setting the clock of the machine is better. Where that cannot be, the gateway goes on from its last
        time; what is dated then may be wrong by as much as the clock is.
      </p>
      <WhoField />
      <label>
        Note (may stay empty)
        <input name="note" maxLength={NOTE_CHARACTERS_MOST} />
      </label>
      <button type="submit" disabled={isSending}>
        Let the gateway go on
      </button>
      {problem !== null && <ProblemNote problem={problem} />}
    </form>
  );
}
