/** Who is logged in, and the way out. Without users there is nothing to show. */
import { login, role, ROLE_WORDS } from '../data/session.js';
import { leave } from './login.js';

export function WhoChip() {
  if (login.value === null) return null;
  return (
    <p class="who-chip">
      <span title={role.value === null ? undefined : `may ${ROLE_WORDS[role.value]}`}>
        {login.value}
        {role.value !== null && <span class="quiet"> ({role.value})</span>}
      </span>
      <button type="button" onClick={() => void leave()}>
        Log out
      </button>
    </p>
  );
}
