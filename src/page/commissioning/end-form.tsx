/** The end of a run: its result is kept, or it is abandoned. */
import type { RunBody } from '../data/station-bodies.js';

const NOTE_CHARACTERS_MOST = 500;

export type EndOfRun = 'finish' | 'abandon';

export function EndForm({
  run,
  isSending,
  onEnd,
}: {
  run: RunBody;
  isSending: boolean;
  onEnd: (how: EndOfRun, note: string) => void;
}) {
  const isWhole = run.next === null;
  const submit = (event: SubmitEvent & { currentTarget: HTMLFormElement }): void => {
    event.preventDefault();
    const data = new FormData(event.currentTarget, event.submitter);
    onEnd(data.get('how') === 'abandon' ? 'abandon' : 'finish', (data.get('note') as string).trim());
  };
  return (
    <form class="run-form panel" onSubmit={submit}>
      <label class="run-note">
        Note to the result (may stay empty)
        <input name="note" maxLength={NOTE_CHARACTERS_MOST} />
      </label>
      <button type="submit" name="how" value="finish" class={isWhole ? 'primary' : ''} disabled={isSending}>
        {isWhole ? 'Finish and keep the result' : 'Finish with steps left out'}
      </button>
      <button type="submit" name="how" value="abandon" disabled={isSending}>
        Abandon
      </button>
    </form>
  );
}
