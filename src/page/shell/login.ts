/** Logging in and out, against the gateway's sessions. */
import { deleteAt, postBody } from '../data/api-client.js';
import { followPlant } from '../data/live-link.js';
import { keepSession, readSession } from '../data/session-check.js';
import {
  isLoginNeeded,
  isWall,
  lastLogin,
  loginReason,
  mayBeLoggedIn,
  needLogin,
  takeSession,
  tellOver,
  type SessionBody,
} from '../data/session.js';

/**
 * Call once: who logged in here earlier is greeted by name again, as long as the session lasts. A screen on the wall is asked for nothing
 * where the site has it so; everybody else begins with the login, so that nothing is offered that would be refused.
 */
export async function resumeSession(): Promise<void> {
  const session = await readSession();
  // it does not answer: that is told elsewhere, and whoever is not known is asked by the next refusal
  if (session === null) return;
  if (session.name !== null || !session.login_needed) return keepSession(session);
  if (mayBeLoggedIn()) tellOver();
  if (!(isWall.value && session.kiosk)) needLogin();
}

/** Rejects with `ApiProblem` when name or password are refused. */
export async function enter(name: string, password: string): Promise<void> {
  keepSession(await postBody<SessionBody>('/session', { name, password }));
  isLoginNeeded.value = false;
  loginReason.value = '';
  followPlant();
}

/** Rejects with `ApiProblem`. */
export async function leave(): Promise<void> {
  await deleteAt<SessionBody>('/session');
  takeSession({ name: null, role: null });
  lastLogin.value = '';
  loginReason.value = '';
  isLoginNeeded.value = true;
}
