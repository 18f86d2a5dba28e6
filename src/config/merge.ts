/**
 * A motor over its template: mappings merge key by key, everything else is replaced by the motor's own.
 * Keeps track of which of the two a value came from, so that a fault points at the line that holds it.
 */
import { expandBraces, EXPANSION_MAX } from './expansion.js';
import { NAME_RULE, NAME_PATTERN, RESERVED_NAMES } from '../../shared/names.js';
import type { MotorFragment } from './motor-schema.js';
import type { Path } from './problem.js';
import type { Report } from './report.js';
import type { FileContent } from './schema.js';
import type { Source } from './source.js';
import { suggestWord } from './suggestion.js';

/** One entry under `motors:`, merged with its template. */
export interface MergedEntry {
  /** the key as written */
  readonly pattern: string;
  /** the motors it stands for */
  readonly names: readonly string[];
  readonly fragment: MotorFragment;
  /** path in the file of a part of the motor: its own, else its template's, else where its own would stand */
  where(part: Path): Path;
}

/** All entries; faults of names and templates go to the report, and the names at fault are left out. */
export function mergeEntries(content: FileContent, source: Source, report: Report): MergedEntry[] {
  const owners = new Map<string, string>();
  const used = new Set<string>();
  const entries = Object.entries(content.motors).map(([pattern, own]) => {
    const names = claimNames(pattern, owners, report);
    const templateName = findTemplate(content, pattern, own, report);
    if (templateName !== null) used.add(templateName);
    const template = templateName === null ? {} : (content.templates[templateName] ?? {});
    const fragment = mergeValues(fillEmpty(template), fillEmpty(own)) as MotorFragment;
    const where = (part: Path): Path => {
      const direct = ['motors', pattern, ...part];
      const behind = ['templates', templateName ?? '', ...part];
      return !source.has(direct) && templateName !== null && source.has(behind) ? behind : direct;
    };
    return { pattern, names, fragment, where };
  });
  for (const name of Object.keys(content.templates)) {
    if (!used.has(name))
      report.warn(['templates', name], 'a motor that names this template', 'none', { at: 'key' });
  }
  return entries;
}

function claimNames(pattern: string, owners: Map<string, string>, report: Report): string[] {
  const path = ['motors', pattern];
  const expansion = expandBraces(pattern);
  if (!expansion.ok) {
    report.error(path, expansion.expected, expansion.found, { at: 'key' });
    return [];
  }
  return expansion.texts.filter((name) => {
    const owner = owners.get(name);
    if (!NAME_PATTERN.test(name))
      report.error(path, `a name of ${NAME_RULE}`, JSON.stringify(name), { at: 'key' });
    else if (RESERVED_NAMES.includes(name))
      report.error(path, `a name other than ${RESERVED_NAMES.join(', ')}`, `"${name}"`, { at: 'key' });
    else if (owner !== undefined) {
      const found =
        owner === pattern ? `"${name}" twice in "${pattern}"` : `"${name}", which "${owner}" holds already`;
      report.error(path, 'every motor once', found, { at: 'key' });
    } else if (owners.size >= EXPANSION_MAX)
      report.error(path, `at most ${EXPANSION_MAX} motors`, 'more', { at: 'key' });
    else {
      owners.set(name, pattern);
      return true;
    }
    return false;
  });
}

/** The name of the template under a motor, or of the one that was meant; null: it names none, or one that is not there. */
function findTemplate(
  content: FileContent,
  pattern: string,
  own: MotorFragment,
  report: Report,
): string | null {
  if (own.template === undefined) return null;
  if (Object.hasOwn(content.templates, own.template)) return own.template;
  const names = Object.keys(content.templates);
  const expected =
    names.length === 0
      ? 'a template under templates:, which the file lacks'
      : `one of the templates ${names.join(', ')}`;
  const suggestion = suggestWord(own.template, names);
  report.error(['motors', pattern, 'template'], expected, `"${own.template}"`, { suggestion });
  // without its template the rest of the motor cannot be judged
  if (suggestion === null) report.ignore(['motors', pattern]);
  return suggestion;
}

/** `nde:` with nothing behind it is a sensor with all defaults, not the absence of one. */
function fillEmpty(fragment: Partial<MotorFragment>): Partial<MotorFragment> {
  if (fragment.positions === undefined) return fragment;
  const positions = Object.entries(fragment.positions).map(([name, value]) => [name, value ?? {}] as const);
  return { ...fragment, positions: Object.fromEntries(positions) };
}

function mergeValues(under: unknown, over: unknown): unknown {
  if (!isMapping(under) || !isMapping(over)) return over;
  const merged: Record<string, unknown> = { ...under };
  for (const [key, value] of Object.entries(over)) {
    if (value !== undefined) merged[key] = Object.hasOwn(under, key) ? mergeValues(under[key], value) : value;
  }
  return merged;
}

function isMapping(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
