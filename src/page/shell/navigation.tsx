/** Where one can go. The number of alarms that wait stands beside the view that answers them. */
import { isLoginNeeded } from '../data/session.js';
import { waitingAlarms } from '../parts/waiting-alarms.js';
import type { PageSegment } from '../../../shared/page-paths.js';
import { VIEWS } from '../views.js';

export function Navigation({ current }: { current: PageSegment | null }) {
  // behind the login nothing is known of now
  const count = isLoginNeeded.value ? 0 : waitingAlarms.value.length;
  return (
    <nav class="navigation" aria-label="Views">
      <ul>
        {VIEWS.filter(({ place }) => place === 'navigation').map(({ segment, title }) => (
          <li key={segment}>
            <a href={`/${segment}`} aria-current={segment === current ? 'page' : undefined}>
              {title}
              {segment === '' && count > 0 && (
                <span class="navigation-count">
                  {count}
                  <span class="only-heard"> {count === 1 ? 'waits' : 'wait'} for an answer</span>
                </span>
              )}
            </a>
          </li>
        ))}
      </ul>
    </nav>
  );
}
