/** Asks the gateway who is there, where the page may know it no longer: after a refusal, after a break, and when the session ends. */
import { isWall, login, needLogin, takeSession, type SessionBody } from './session.js';

/** After an answer that did not come. */
const RETRY_MS = 10_000;
const PATIENCE_MS = 20_000;
/** Longest wait that a timer of a browser keeps. */
const TIMER_MS_MOST = 2_147_483_647;
let endTimer: ReturnType<typeof setTimeout> | undefined;

/** Null: it does not answer. */
export async function readSession(): Promise<SessionBody | null> {
  try {
    const signal = AbortSignal.timeout(PATIENCE_MS);
    const answer = await fetch('/api/v1/session', { cache: 'no-store', signal });
    return answer.ok ? ((await answer.json()) as SessionBody) : null;
  } catch {
    return null;
  }
}

function checkAfter(ms: number): void {
  clearTimeout(endTimer);
  endTimer = setTimeout(() => void checkSession(), Math.min(ms, TIMER_MS_MOST));
}

/** Takes what the gateway says of a session, and asks again when its time has run out. */
export function keepSession(session: SessionBody): void {
  takeSession(session);
  clearTimeout(endTimer);
  if (session.until === null) return;
  const leftMs = Date.parse(session.until) - Date.parse(session.now);
  checkAfter(Math.max(leftMs, 0) + 1_000);
}

/** Of whoever is logged in on this screen: until it is answered. */
export async function checkSession(): Promise<void> {
  if (login.value === null) return;
  const session = await readSession();
  // what was asked is not known yet: a session that is over must not look like one that lasts
  if (session === null) return checkAfter(RETRY_MS);
  const isOver = session.login_needed && session.name === null;
  // a wall that can do without a login goes on without the one that ended
  if (isOver && !(isWall.value && session.kiosk)) needLogin();
  else keepSession(session);
}
