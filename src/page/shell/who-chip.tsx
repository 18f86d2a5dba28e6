/** Who is logged in, and the way out. Without users there is nothing to show. */
import { login } from '../data/session.js';
import { leave } from './login.js';

export function WhoChip() {
  if (login.value === null) return null;
  return (
    <p class="who-chip">
      {login.value}
      <button type="button" onClick={() => void leave()}>
        Log out
      </button>
    </p>
  );
}
