/** Asks the gateway who is there, where the page may know it no longer: after a refusal, after a break, and when the session ends. */
import { login, needLogin, takeSession, type SessionBody } from './session.js';

/** Longest wait that a timer of a browser keeps. */
const TIMER_MS_MOST = 2_147_483_647;
let endTimer: number | undefined;

/** Null: it does not answer. */
export async function readSession(): Promise<SessionBody | null> {
  const answer = await fetch('/api/v1/session', { cache: 'no-store' }).catch(() => null);
  return answer?.ok === true ? ((await answer.json()) as SessionBody) : null;
}

/** Takes what the gateway says of a session, and asks again when its time has run out. */
export function keepSession(session: SessionBody): void {
  takeSession(session);
  clearTimeout(endTimer);
  if (session.until === null) return;
  const leftMs = Date.parse(session.until) - Date.parse(session.now);
  endTimer = window.setTimeout(
    () => void checkSession(),
    Math.min(Math.max(leftMs, 0) + 1_000, TIMER_MS_MOST),
  );
}

/** Of whoever is logged in on this screen. */
export async function checkSession(): Promise<void> {
  if (login.value === null) return;
  const session = await readSession();
  if (session === null) return;
  if (session.login_needed && session.name === null) needLogin();
  else keepSession(session);
}
