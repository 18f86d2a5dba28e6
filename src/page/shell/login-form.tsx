/** Shown in place of a view when the gateway asks who is there. */
import { useLayoutEffect, useRef, useState } from 'preact/hooks';
import { toProblem, type ApiProblem } from '../data/api-client.js';
import { lastLogin, loginReason, WHO_CHARACTERS_MOST } from '../data/session.js';
import { ProblemNote } from '../parts/problem-note.js';
import { enter } from './login.js';

export function LoginForm() {
  const [problem, setProblem] = useState<ApiProblem | null>(null);
  const [isSending, setSending] = useState(false);
  const form = useRef<HTMLFormElement>(null);
  useLayoutEffect(() => {
    // whoever was writing goes on writing where the login took over
    const before = document.activeElement;
    form.current
      ?.querySelector<HTMLElement>(lastLogin.value === '' ? '[name=name]' : '[name=password]')
      ?.focus();
    return () =>
      requestAnimationFrame(() => {
        const isThere = before instanceof HTMLElement && before !== document.body && before.isConnected;
        (isThere ? before : document.getElementById('stage'))?.focus();
      });
  }, []);
  const submit = async (event: SubmitEvent & { currentTarget: HTMLFormElement }): Promise<void> => {
    event.preventDefault();
    const form = new FormData(event.currentTarget);
    setSending(true);
    try {
      await enter(form.get('name') as string, form.get('password') as string);
    } catch (error) {
      setProblem(toProblem(error));
    } finally {
      setSending(false);
    }
  };
  return (
    <form class="login panel" ref={form} onSubmit={(event) => void submit(event)}>
      <h1>Who is there?</h1>
      {loginReason.value !== '' && (
        <p class="todo" role="status">
          {loginReason.value}
        </p>
      )}
      <p>This gateway shows its plant to people it knows. The names are set in its configuration.</p>
      <label>
        Name
        <input
          {...{ name: 'name', required: true, maxLength: WHO_CHARACTERS_MOST, autocomplete: 'username' }}
          defaultValue={lastLogin.value}
        />
      </label>
      <label>
        Password
        <input name="password" type="password" required maxLength={256} autocomplete="current-password" />
      </label>
      <button type="submit" class="primary" disabled={isSending}>
        Log in
      </button>
      {problem !== null && <ProblemNote problem={problem} />}
    </form>
  );
}
