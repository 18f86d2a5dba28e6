/**
 * Names of sites, motors, positions and alarms, and the key of a sensor made of two of them.
 * Why here: a name is a topic level, a key in the store and a word on the page; it must be fit for all three.
 * Source: pattern and reserved names are our choice: plain lower case needs no escaping in topics, URLs or files.
 */

/** Anchored; ASCII only, so that its length in characters is its length in bytes. */
export const NAME_PATTERN = /^[a-z0-9][a-z0-9-]{0,39}$/;

/** What `NAME_PATTERN` asks for, in words. */
export const NAME_RULE = '1 to 40 of a-z, 0-9 and hyphen, not starting with a hyphen';

/** Topic levels with a meaning of their own: neither a motor nor a position may be called so. */
export const RESERVED_NAMES: readonly string[] = ['drive', 'alarm', 'gateway', 'journal'];

/** True for any name that fits the pattern, reserved or not. */
export function isName(text: string): boolean {
  return NAME_PATTERN.test(text);
}

/** True for a name that a motor or a position may have. */
export function isPlaceName(text: string): boolean {
  return NAME_PATTERN.test(text) && !RESERVED_NAMES.includes(text);
}

/**
 * Why `text` cannot be the name of a motor or a position, as the end of a sentence; null: it can.
 * `what` is the word for it: `motor`, `position`.
 */
export function faultOfPlaceName(what: string, text: string): string | null {
  if (!NAME_PATTERN.test(text)) {
    return `${what}: expected a name of ${NAME_RULE}, found ${JSON.stringify(text.slice(0, 80))}`;
  }
  if (RESERVED_NAMES.includes(text)) {
    return `${what}: expected a name of your own, found ${JSON.stringify(text)}, which is reserved`;
  }
  return null;
}

/** `<motor>/<position>`: the place of measurement. Names are not checked here. */
export function sensorKey(motor: string, position: string): string {
  return `${motor}/${position}`;
}

export interface SensorPlace {
  readonly motor: string;
  readonly position: string;
}

/** The two names in a sensor's key; null: not two fit names with one slash between them. */
export function parseSensorKey(key: string): SensorPlace | null {
  const slash = key.indexOf('/');
  if (slash < 0) return null;
  const motor = key.slice(0, slash);
  const position = key.slice(slash + 1);
  return isPlaceName(motor) && isPlaceName(position) ? { motor, position } : null;
}
