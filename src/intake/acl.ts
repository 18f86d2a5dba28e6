/**
 * Who may publish and subscribe where. A device publishes below its own place, a drive reporter below the `drive/` of its
 * motors, a reader nowhere. Only the gateway publishes below `out/`. Devices and drive reporters subscribe to nothing.
 * Without logins (loopback only) everybody may do what a device, a drive reporter and a reader may.
 */
import type { Login } from './credentials.js';

export interface Rights {
  readonly name: string;
  /** where it may publish and subscribe, in words, for whoever was turned away */
  readonly publishRule: string;
  readonly subscribeRule: string;
  mayPublish(topic: string): boolean;
  maySubscribe(filter: string): boolean;
}

/** Everything on this machine, when no logins are configured. */
export function openRights(site: string): Rights {
  const inbound = `${site}/in/`;
  return {
    name: 'anyone',
    publishRule: `without logins everybody may publish below ${inbound} only`,
    subscribeRule: `without logins everybody may subscribe to topics of ${site} only`,
    mayPublish: (topic) => topic.startsWith(inbound),
    maySubscribe: (filter) => isSiteFilter(site, filter),
  };
}

export function rightsOf(site: string, login: Login): Rights {
  const topics = new Set<string>();
  if (login.role === 'device') {
    for (const sensor of login.sensors) {
      topics.add(`${site}/in/${sensor}/reading`);
      topics.add(`${site}/in/${sensor}/presence`);
    }
  }
  if (login.role === 'drive') {
    for (const motor of login.motors) {
      topics.add(`${site}/in/${motor}/drive/state`);
      topics.add(`${site}/in/${motor}/drive/presence`);
    }
  }
  return {
    name: login.name,
    publishRule: tellPublishRule(site, login),
    subscribeRule:
      login.role === 'reader'
        ? `the reader ${login.name} may subscribe to topics of ${site} only, and keep its session only when it is listed in mqtt.persistentClients`
        : `the ${login.role} ${login.name} may subscribe to nothing`,
    mayPublish: (topic) => topics.has(topic),
    maySubscribe: (filter) => login.role === 'reader' && isSiteFilter(site, filter),
  };
}

/** Places named in a rule; more of them are counted. */
const PLACES_TOLD = 4;

function tellPublishRule(site: string, { name, role, sensors, motors }: Login): string {
  if (role === 'reader') return `the reader ${name} may publish nowhere`;
  const places = role === 'device' ? sensors : motors;
  const more = places.length > PLACES_TOLD ? ` and ${places.length - PLACES_TOLD} more` : '';
  const told = places.slice(0, PLACES_TOLD).join(', ') + more;
  return role === 'device'
    ? `the device ${name} may publish reading and presence of ${told} below ${site}/in/ only`
    : `the drive reporter ${name} may publish drive/state and drive/presence of ${told} below ${site}/in/ only`;
}

/**
 * Whether a filter stays within what this gateway speaks of: the site's topics, however the filter reaches them. `#` and
 * `+/…` match nothing else, as MQTT 3.1.1 (4.7.2) keeps topics that begin with `$` out of them.
 */
function isSiteFilter(site: string, filter: string): boolean {
  const level = filter.split('/', 1)[0];
  return level === site || level === '#' || level === '+';
}

/** Whether a filter may match a topic that begins with these levels. Filters are taken as well formed. */
export function reaches(filter: string, levels: readonly string[]): boolean {
  const parts = filter.split('/');
  for (let i = 0; i < levels.length; i++) {
    const part = parts[i];
    if (part === '#') return true;
    if (part === undefined || (part !== '+' && part !== levels[i])) return false;
  }
  return parts.length > levels.length;
}
