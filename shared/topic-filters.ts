/**
 * Topic names and topic filters of MQTT: which are valid, and which filter takes which topic.
 * Source: MQTT Version 3.1.1, OASIS Standard (2014), sections 4.7.1 to 4.7.3, 1.5.3.
 */

/** Longest topic name or filter, in bytes of UTF-8 [MQTT-4.7.3-3]. */
const BYTES_MAX = 65_535;

/** A name that may be published to: not empty, no wildcard, no NUL, not too long. */
export function isValidTopic(topic: string): boolean {
  return fits(topic) && !topic.includes('+') && !topic.includes('#');
}

/** `#` only as the whole last level [MQTT-4.7.1-2], `+` only as a whole level [MQTT-4.7.1-3]. */
export function isValidFilter(filter: string): boolean {
  if (!fits(filter)) return false;
  const levels = filter.split('/');
  return levels.every((level, index) => {
    if (level.includes('#')) return level === '#' && index === levels.length - 1;
    return !level.includes('+') || level === '+';
  });
}

/**
 * Whether a subscription to `filter` gets messages of `topic`. False when either is not valid.
 * `a/#` takes `a` too; a filter that begins with a wildcard takes no topic that begins with `$` [MQTT-4.7.2-1].
 */
export function matchesFilter(filter: string, topic: string): boolean {
  if (!isValidFilter(filter) || !isValidTopic(topic)) return false;
  if (topic.startsWith('$') && (filter.startsWith('#') || filter.startsWith('+'))) return false;
  const wanted = filter.split('/');
  const levels = topic.split('/');
  for (const [index, level] of wanted.entries()) {
    if (level === '#') return true;
    if (index >= levels.length) return false;
    if (level !== '+' && level !== levels[index]) return false;
  }
  return wanted.length === levels.length;
}

/**
 * Whether every topic that `filter` takes lies within what `grant` takes, so that a subscription may be allowed.
 * Both are filters; false when either is not valid.
 */
export function coversFilter(grant: string, filter: string): boolean {
  if (!isValidFilter(grant) || !isValidFilter(filter)) return false;
  const wildGrant = grant.startsWith('#') || grant.startsWith('+');
  if (filter.startsWith('$') && wildGrant) return false;
  const granted = grant.split('/');
  const asked = filter.split('/');
  for (const [index, level] of granted.entries()) {
    if (level === '#') return true;
    const other = asked[index];
    if (other === undefined || other === '#') return false;
    if (level !== '+' && level !== other) return false;
  }
  return granted.length === asked.length;
}

function fits(text: string): boolean {
  if (text.length === 0 || text.length > BYTES_MAX || text.includes('\0')) return false;
  return text.length * 3 <= BYTES_MAX || bytesOf(text) <= BYTES_MAX;
}

/** Length in UTF-8, counted by code points, so that no encoder is needed. */
function bytesOf(text: string): number {
  let bytes = 0;
  for (const character of text) {
    const code = character.codePointAt(0) ?? 0;
    bytes += code < 0x80 ? 1 : code < 0x800 ? 2 : code < 0x10000 ? 3 : 4;
  }
  return bytes;
}
