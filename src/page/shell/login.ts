/** Logging in and out, against the gateway's sessions. */
import { deleteAt, fetchBody, postBody } from '../data/api-client.js';
import { followPlant } from '../data/live-link.js';
import { isLoginNeeded, mayBeLoggedIn, takeSession, type SessionBody } from '../data/session.js';

const NOBODY: SessionBody = { name: null, role: null };

/** Call once: who logged in here earlier is greeted by name again, as long as the session lasts. */
export async function resumeSession(): Promise<void> {
  if (!mayBeLoggedIn()) return;
  try {
    takeSession(await fetchBody<SessionBody>('/session'));
  } catch {
    // whoever is not known is asked by the next refusal
  }
}

/** Rejects with `ApiProblem` when name or password are refused. */
export async function enter(name: string, password: string): Promise<void> {
  takeSession(await postBody<SessionBody>('/session', { name, password }));
  isLoginNeeded.value = false;
  followPlant();
}

/** Rejects with `ApiProblem`. */
export async function leave(): Promise<void> {
  await deleteAt<SessionBody>('/session');
  takeSession(NOBODY);
  isLoginNeeded.value = true;
}
