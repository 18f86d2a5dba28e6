/** Where one can go. The number of alarms that wait stands beside the view that answers them. */
import { computed } from '@preact/signals';
import { openAlarms } from '../data/plant.js';
import { isWaiting } from '../parts/alarm-words.js';
import type { PageSegment } from '../../../shared/page-paths.js';
import { VIEWS } from '../views.js';

const waitingCount = computed(() => [...(openAlarms.value?.values() ?? [])].filter(isWaiting).length);

export function Navigation({ current }: { current: PageSegment | null }) {
  return (
    <nav class="navigation" aria-label="Views">
      <ul>
        {VIEWS.filter(({ place }) => place === 'navigation').map(({ segment, title }) => (
          <li key={segment}>
            <a href={`/${segment}`} aria-current={segment === current ? 'page' : undefined}>
              {title}
              {segment === '' && waitingCount.value > 0 && (
                <span class="navigation-count" aria-label={`${waitingCount.value} wait for an answer`}>
                  {waitingCount.value}
                </span>
              )}
            </a>
          </li>
        ))}
      </ul>
    </nav>
  );
}
