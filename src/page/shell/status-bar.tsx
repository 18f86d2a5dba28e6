/** Site, connection and clock: what every view stands under. */
import { now, zone } from '../data/clock.js';
import { link } from '../data/live-link.js';
import { site } from '../data/plant.js';
import { isLoginNeeded } from '../data/session.js';
import { formatClockSeconds, formatDay, formatSpan, formatZone } from '../times.js';
import { chooseTheme, theme, THEME_NAMES, type Theme } from './theme.js';
import { WhoChip } from './who-chip.js';

/** Whether what is shown is of now, in words. A page that lost its gateway says how old it is. */
export function LinkState() {
  const { state, heardAt, says } = link.value;
  // behind the login nothing is of now, whatever the connection does
  if (isLoginNeeded.value)
    return (
      <p class="link-state">
        <span role="status">Nobody is logged in</span>
      </p>
    );
  const age = heardAt === null ? '' : ` Everything shown is ${formatSpan(now.value - heardAt)} old.`;
  // the age moves each second, which is seen and not said
  return (
    <p class={`link-state ${state === 'lost' ? 'is-stale' : ''}`}>
      <span role="status">
        {{ live: 'Live', opening: 'Connecting…', lost: `No connection. ${says}` }[state]}
      </span>
      {state === 'lost' && `${age} Trying again.`}
    </p>
  );
}

function Clock() {
  const at = now.value;
  return (
    <p class="clock" title={zone.value}>
      {formatDay(at, zone.value)} <strong>{formatClockSeconds(at, zone.value)}</strong>{' '}
      {formatZone(at, zone.value)}
    </p>
  );
}

function ThemeChoice() {
  return (
    <label class="theme-choice">
      <span>Screen</span>
      <select value={theme.value} onChange={(event) => chooseTheme(event.currentTarget.value as Theme)}>
        {Object.entries(THEME_NAMES).map(([value, name]) => (
          <option key={value} value={value}>
            {name}
          </option>
        ))}
      </select>
    </label>
  );
}

export function StatusBar() {
  return (
    <header class={`status-bar ${link.value.state === 'lost' ? 'is-lost' : ''}`}>
      <p class="site">
        <strong>{site.value === '' ? 'Tallypost' : site.value}</strong>
        {site.value === '' ? null : <span>Tallypost</span>}
      </p>
      <LinkState />
      <Clock />
      <WhoChip />
      <ThemeChoice />
    </header>
  );
}
