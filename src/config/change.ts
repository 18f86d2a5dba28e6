/**
 * Reload: a new file against the running configuration. Nothing is taken over unless all of it is right.
 */
import type { Plan } from '../core/plan.js';
import type { Config } from './config.js';
import { loadConfig } from './parse.js';
import type { Problem } from './problem.js';
import { listSettings } from './revision.js';

/** One setting that differs. JSON text of its values; null: it is not there. */
export interface ConfigChange {
  readonly path: string;
  readonly before: string | null;
  readonly after: string | null;
  /** true: taken over only when the gateway starts anew */
  readonly needsRestart: boolean;
}

export type ReloadResult =
  | {
      readonly ok: true;
      readonly config: Config;
      readonly plan: Plan;
      readonly warnings: Problem[];
      readonly changes: ConfigChange[];
    }
  | { readonly ok: false; readonly problems: Problem[] };

/** What is bound, named or opened once, when the gateway starts. */
const START_ONLY = [
  /^site$/,
  /^mqtt\.(?!users(\.|$))/,
  /^http\.(?!users(\.|$))/,
  /^storage\.(minCommitIntervalMs|walBytesMax)$/,
  /^sinks(\.|$)/,
];

/** Most lines of a description. */
const LINES_MAX = 40;

/** Reads the file anew. On problems the caller keeps `current`. */
export function reloadConfig(current: Config, path: string): ReloadResult {
  const result = loadConfig(path);
  return result.ok ? { ...result, changes: listChanges(current, result.config) } : result;
}

/**
 * Every setting that differs, by path. Order, comments, templates and braces are no settings. `started`: the configuration of the
 * start, whose word still goes for what is taken over only then, however often the file was read since.
 */
export function listChanges(before: Config, after: Config, started: Config = before): ConfigChange[] {
  const [first, old, fresh] = [listSettings(started), listSettings(before), listSettings(after)];
  const paths = [...new Set([...first.keys(), ...old.keys(), ...fresh.keys()])].sort();
  return paths.flatMap((path) => {
    const needsRestart = START_ONLY.some((pattern) => pattern.test(path));
    const inForce = (needsRestart ? first : old).get(path) ?? null;
    const change = { path, before: inForce, after: fresh.get(path) ?? null };
    return change.before === change.after ? [] : [{ ...change, needsRestart }];
  });
}

/** The difference in lines for the journal: whole motors that came or went, then single settings. '' when there is none. */
export function describeChange(before: Config, after: Config): string {
  const names = (config: Config): Set<string> => new Set(config.motors.map(({ key }) => key));
  const [old, fresh] = [names(before), names(after)];
  const added = [...fresh].filter((name) => !old.has(name)).map((name) => `motor ${name} added`);
  const removed = [...old].filter((name) => !fresh.has(name)).map((name) => `motor ${name} removed`);
  const both = (path: string): boolean => {
    const motor = /^motors\.([^.]+)\./.exec(path)?.[1];
    return motor === undefined || (old.has(motor) && fresh.has(motor));
  };
  const settings = listChanges(before, after)
    .filter((change) => both(change.path))
    .map(formatChange);
  const lines = [...added, ...removed, ...settings];
  const more = lines.length - LINES_MAX;
  return (more > 0 ? [...lines.slice(0, LINES_MAX), `and ${more} more`] : lines).join('\n');
}

function formatChange(change: ConfigChange): string {
  const values = `${change.before ?? 'absent'} -> ${change.after ?? 'absent'}`;
  return `${change.path}: ${values}${change.needsRestart ? ' (after a restart)' : ''}`;
}
