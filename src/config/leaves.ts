/**
 * The single values of the schema: each carries its own words for "expected …", so that a fault needs no decoding.
 * `expected` texts stand as the message of every check of the leaf.
 */
import * as z from 'zod';
import { formatNumber } from './figures.js';
import { NAME_PATTERN, NAME_RULE } from '../../shared/names.js';

const NAME_EXPECTED = `a name of ${NAME_RULE}`;

/** Whole number from `min` to `max`, both allowed; `unit` is named in the message. */
export function wholeNumber(min: number, max: number, unit: string, description: string) {
  const expected = `a whole number${unit === '' ? '' : ` of ${unit}`} from ${formatNumber(min)} to ${formatNumber(max)}`;
  return z
    .int({ error: expected })
    .min(min, { error: expected })
    .max(max, { error: expected })
    .meta({ description });
}

/** Whole milliseconds. */
export function milliseconds(min: number, max: number, description: string) {
  return wholeNumber(min, max, 'milliseconds', description);
}

/** Any finite number from `min` to `max`, both allowed. */
export function decimal(min: number, max: number, unit: string, description: string) {
  const expected = `a number${unit === '' ? '' : ` of ${unit}`} from ${formatNumber(min)} to ${formatNumber(max)}`;
  return z
    .number({ error: expected })
    .min(min, { error: expected })
    .max(max, { error: expected })
    .meta({ description });
}

/** One of a few words. */
export function oneOf<const T extends readonly [string, ...string[]]>(words: T, description: string) {
  return z.enum(words, { error: `one of ${words.join(', ')}` }).meta({ description });
}

export function flag(description: string) {
  return z.boolean({ error: 'true or false' }).meta({ description });
}

/** A sentence for people. */
export function sentence(description: string) {
  const expected = 'text of 1 to 500 characters';
  return z
    .string({ error: expected })
    .trim()
    .min(1, { error: expected })
    .max(500, { error: expected })
    .meta({ description });
}

/** One topic level. */
export function name(description: string) {
  return z
    .string({ error: NAME_EXPECTED })
    .regex(NAME_PATTERN, { error: NAME_EXPECTED })
    .meta({ description });
}

/** A name that may hold braces; what it stands for is checked when it is expanded. */
export function namePattern(description: string) {
  const expected = 'a name, which may hold braces such as booster-{1..6}';
  return z
    .string({ error: expected })
    .regex(/^[a-z0-9{][a-z0-9-{}.,]*$/, { error: expected })
    .max(200, { error: expected })
    .meta({ description });
}

/** The name of an environment variable. */
export const variableName = z
  .string({ error: 'the name of an environment variable, such as TALLYPOST_PANEL' })
  .regex(/^[A-Za-z_][A-Za-z0-9_]{0,127}$/, {
    error: 'the name of an environment variable, such as TALLYPOST_PANEL',
  });

/** Relative paths count from the folder of the configuration. */
export const filePath = z
  .string({ error: 'the path of a file' })
  .min(1, { error: 'the path of a file' })
  .max(1_000, { error: 'the path of a file' });

/** A list with words of its own for a value that is no list. */
export function list<T extends z.ZodType>(item: T, what: string, description: string) {
  return z
    .array(item, { error: `a list of ${what}` })
    .max(10_000, { error: 'at most 10,000 items' })
    .meta({ description });
}

/** A mapping that allows no other keys. */
export function mapping<T extends z.core.$ZodLooseShape>(shape: T, description: string) {
  const expected = `a mapping with ${listKeys(Object.keys(shape))}`;
  return z.strictObject(shape, { error: expected }).meta({ description });
}

/** A section that may be left out, whole or in part, because everything in it has a default. */
export function section<T extends z.core.$ZodLooseShape>(shape: T, description: string) {
  return mapping(shape, description).prefault({} as never);
}

/** The first keys of a mapping for a message; not all, for a line of text must stay one. */
export function listKeys(keys: readonly string[]): string {
  return keys.length > 12 ? `${keys.slice(0, 12).join(', ')}, …` : keys.join(', ');
}

/** A key that may be missing; editors show the default. */
export function optional<T extends z.ZodType>(leaf: T, fallback?: unknown) {
  const wrapped = leaf.optional();
  return fallback === undefined ? wrapped : wrapped.meta({ ...leaf.meta(), default: fallback });
}

/** A mapping, or `false` to switch off what a template or a default has on. */
export function orFalse<T extends z.ZodType>(fragment: T) {
  return z.union([z.literal(false), fragment], { error: 'false or a mapping' }).optional();
}
