/** Taking back work or a finding that was entered wrongly: it stays on record, marked, and is left out of every comparison. */
import { useState } from 'preact/hooks';
import { NOTE_CHARACTERS_MOST } from '../acts/act-form.js';
import { postBody, toProblem, type ApiProblem } from '../data/api-client.js';
import { currentWho } from '../data/session.js';
import { ProblemNote } from '../parts/problem-note.js';
import { WhoField } from '../parts/who-field.js';

/** `path` of the entry, below /api/v1. */
export function WithdrawForm({ path, onWithdrawn }: { path: string; onWithdrawn: () => void }) {
  const [problem, setProblem] = useState<ApiProblem | null>(null);
  const [isSending, setSending] = useState(false);
  const send = async (note: string): Promise<void> => {
    setSending(true);
    try {
      await postBody(`${path}/withdraw`, { by: currentWho(), note });
      setProblem(null);
      onWithdrawn();
    } catch (error) {
      setProblem(toProblem(error));
    } finally {
      setSending(false);
    }
  };
  return (
    <details class="withdraw">
      <summary>Entered wrongly?</summary>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          const note = new FormData(event.currentTarget).get('note');
          void send(typeof note === 'string' ? note.trim() : '');
        }}
      >
        <WhoField />
        <label>
          Why
          <input name="note" required maxLength={NOTE_CHARACTERS_MOST} />
        </label>
        <button type="submit" disabled={isSending}>
          Withdraw it
        </button>
        {problem !== null && <ProblemNote problem={problem} />}
      </form>
    </details>
  );
}
