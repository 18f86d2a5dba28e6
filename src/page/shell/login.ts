/** Logging in and out, against the gateway's sessions. */
import { deleteAt, postBody } from '../data/api-client.js';
import { followPlant } from '../data/live-link.js';
import { isLoginNeeded, login } from '../data/session.js';

/** Rejects with `ApiProblem` when name or password are refused. */
export async function enter(name: string, password: string): Promise<void> {
  await postBody<unknown>('/session', { name, password });
  login.value = name;
  isLoginNeeded.value = false;
  followPlant();
}

/** Rejects with `ApiProblem`. */
export async function leave(): Promise<void> {
  await deleteAt<unknown>('/session');
  login.value = null;
  isLoginNeeded.value = true;
}
