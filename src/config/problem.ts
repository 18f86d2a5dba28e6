/**
 * What is wrong with a configuration, where, and what would be right.
 * Why a type of its own: the command line, the journal and the reload all show the same sentence.
 */

/** Keys and list indices from the top of the file down. */
export type Path = readonly (string | number)[];

/**
 * One thing that is wrong (or, as a warning, doubtful).
 * `line` and `column` count from 1. `path` is '' for the file as a whole. `suggestion` null: no known word is near.
 * `hint` is one more sentence on what to do, or null.
 */
export interface Problem {
  readonly file: string;
  readonly line: number;
  readonly column: number;
  readonly path: string;
  readonly expected: string;
  readonly found: string;
  readonly suggestion: string | null;
  readonly hint: string | null;
}

/** `file:line:column path: expected …, found …; did you mean "…"? (hint)` */
export function formatProblem(problem: Problem): string {
  const place = `${problem.file}:${problem.line}:${problem.column}`;
  const head = problem.path === '' ? `${place}:` : `${place} ${problem.path}:`;
  const suggestion = problem.suggestion === null ? '' : `; did you mean "${problem.suggestion}"?`;
  const hint = problem.hint === null ? '' : ` (${problem.hint})`;
  return `${head} expected ${problem.expected}, found ${problem.found}${suggestion}${hint}`;
}

/** `['mqtt', 'users', 0, 'role']` becomes `mqtt.users[0].role`. */
export function formatPath(path: Path): string {
  return path.reduce<string>((text, part) => {
    if (typeof part === 'number') return `${text}[${part}]`;
    return text === '' ? part : `${text}.${part}`;
  }, '');
}

/** Names a value for an error message: short, and never the content of a mapping. */
export function describeFound(value: unknown): string {
  if (value === undefined || value === null) return 'nothing';
  if (Array.isArray(value)) return value.length === 0 ? 'an empty list' : 'a list';
  if (typeof value === 'object') return 'a mapping';
  if (typeof value === 'string')
    return JSON.stringify(value.length > 60 ? `${value.slice(0, 57)}...` : value);
  if (typeof value === 'number' || typeof value === 'boolean' || typeof value === 'bigint')
    return String(value);
  return typeof value;
}

/** By place in the file; the same sentence about the same place is said once (templates are checked once per motor). */
export function orderProblems(problems: readonly Problem[]): Problem[] {
  const once = new Map(problems.map((problem) => [formatProblem(problem), problem]));
  return [...once.values()].sort((a, b) => a.line - b.line || a.column - b.column);
}
