/** Who acts: the login where there is one, otherwise a name that the page remembers. */
import { login, rememberWho, typedWho, WHO_CHARACTERS_MOST } from '../data/session.js';

/** Nothing to fill in where somebody is logged in. */
export function WhoField() {
  if (login.value !== null) return null;
  return (
    <label>
      Who
      <input
        name="who"
        required
        maxLength={WHO_CHARACTERS_MOST}
        autocomplete="name"
        value={typedWho.value}
        onInput={(event) => rememberWho(event.currentTarget.value)}
      />
    </label>
  );
}
