/** The address line as a signal. Links inside the page change it without loading the page again. */
import { computed, signal } from '@preact/signals';

interface Address {
  readonly path: string;
  readonly search: string;
}

function readAddress(): Address {
  return { path: location.pathname, search: location.search };
}

export const address = signal<Address>(readAddress());

/** Parts of the path, decoded; of `/` none. A part that cannot be decoded is taken as it stands. */
export const pathParts = computed(() =>
  address.value.path
    .split('/')
    .filter((part) => part !== '')
    .map(decodePart),
);

export const query = computed(() => new URLSearchParams(address.value.search));

function decodePart(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}

/** Opens an address of the page. `replace`: the one before is not kept for the back button. */
export function openAddress(href: string, replace = false): void {
  if (replace) history.replaceState(null, '', href);
  else history.pushState(null, '', href);
  address.value = readAddress();
}

/** Changes parameters of the present address; null takes one away. Used by filters, so that a view can be sent on. */
export function setParameters(changes: Readonly<Record<string, string | null>>): void {
  const next = new URLSearchParams(address.value.search);
  for (const [name, value] of Object.entries(changes)) {
    if (value === null || value === '') next.delete(name);
    else next.set(name, value);
  }
  const text = next.toString();
  openAddress(`${address.value.path}${text === '' ? '' : `?${text}`}`, true);
}

/** True for a click that means "open it here", not "in a new window" or "save it". */
function isPlainClick(event: MouseEvent): boolean {
  return event.button === 0 && !event.metaKey && !event.ctrlKey && !event.shiftKey && !event.altKey;
}

function takeClick(event: MouseEvent): void {
  if (event.defaultPrevented || !isPlainClick(event) || !(event.target instanceof Element)) return;
  const link = event.target.closest('a');
  if (link === null || link.target !== '' || link.hasAttribute('download')) return;
  if (link.origin !== location.origin || link.pathname.startsWith('/api/')) return;
  if (link.pathname === location.pathname && link.search === location.search && link.hash !== '') return;
  event.preventDefault();
  openAddress(link.pathname + link.search + link.hash);
  scrollTo(0, 0);
}

/** Call once. */
export function followAddress(): void {
  addEventListener('popstate', () => (address.value = readAddress()));
  document.addEventListener('click', takeClick);
}
