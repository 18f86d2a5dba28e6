/**
 * Checks the file against the schema and turns its complaints into problems with a place and a did-you-mean.
 * All faults at once: what is faulty is taken out and the rest is checked on, so that the cross-checks speak too.
 */
import type * as z from 'zod';
import { listKeys } from './leaves.js';
import { describeFound, formatPath, orderProblems } from './problem.js';
import type { Path, Problem } from './problem.js';
import { FileSchema } from './schema.js';
import type { FileContent } from './schema.js';
import { isContainer, repairFaults, valueAt } from './repair.js';
import { keysAt } from './schema-keys.js';
import type { Source } from './source.js';
import { suggestWord } from './suggestion.js';
import { listTimeZones } from './time-zone.js';

/** `content` null: too much is wrong for anything to be left to check further. `broken`: the parts that the problems are about. */
export interface ShapeResult {
  readonly content: FileContent | null;
  readonly problems: Problem[];
  readonly broken: Path[];
}

/** A complaint of the schema about one key or value. `unknownKey` null: the value is at fault, not the key. */
interface Fault {
  readonly path: Path;
  readonly unknownKey: string | null;
  readonly expected: string;
  readonly suggestion: string | null;
  readonly found: string;
  readonly hint: string | null;
}

/** Most faults that are told, and cross-checked on. Our choice: nobody reads a thousand. */
const FAULTS_MAX = 1_000;

/** A mistyped key, set right, may hold more faults; each round goes one deeper. */
const ROUNDS_MAX = 5;

type Issue = z.core.$ZodIssue;

const SECRET_KEYS = /^(password|passwd|pass|pwd|secret|token)$/i;

export function checkShape(source: Source): ShapeResult {
  const first = FileSchema.safeParse(source.value);
  if (first.success) return { content: first.data, problems: [], broken: [] };
  const all = first.error.issues.flatMap((issue) => listFaults(issue, [], source.value));
  const faults = all.slice(0, FAULTS_MAX);
  const meant = faults.flatMap((fault) =>
    fault.suggestion !== null && fault.unknownKey !== null
      ? [[...fault.path.slice(0, -1), fault.suggestion]]
      : [],
  );
  const told = faults.filter(
    (fault) =>
      !(fault.found === 'nothing' && meant.some((path) => formatPath(path) === formatPath(fault.path))),
  );
  const complete = faults.length === all.length;
  const rest = complete ? parseRest(source.value, faults) : { content: null, replaced: [] };
  return {
    content: rest.content,
    problems: orderProblems(told.map((fault) => placeFault(fault, source))),
    broken: [...faults.map((fault) => fault.path), ...meant, ...rest.replaced],
  };
}

function placeFault(fault: Fault, source: Source): Problem {
  const place = source.locate(fault.path, fault.unknownKey === null ? 'value' : 'key');
  const { expected, found, suggestion, hint } = fault;
  return { file: source.file, ...place, path: formatPath(fault.path), expected, found, suggestion, hint };
}

function listFaults(issue: Issue, base: Path, root: unknown): Fault[] {
  const path = [...base, ...(issue.path as (string | number)[])];
  if (issue.code === 'unrecognized_keys') return issue.keys.map((key) => describeUnknownKey(path, key));
  if (issue.code === 'invalid_union') {
    const branch = issue.errors.find(
      (issues) => !issues.some((inner) => inner.path.length === 0 && inner.code !== 'unrecognized_keys'),
    );
    if (branch !== undefined) return branch.flatMap((inner) => listFaults(inner, path, root));
  }
  if (issue.code === 'invalid_key') {
    const key = String(path.at(-1));
    const expected = issue.issues[0]?.message ?? issue.message;
    return [{ path, unknownKey: key, expected, suggestion: null, found: describeFound(key), hint: null }];
  }
  return [describeValue(issue, path, valueAt(root, path))];
}

function describeUnknownKey(parent: Path, key: string): Fault {
  const path = [...parent, key];
  if (SECRET_KEYS.test(key)) {
    const hint = 'this file ends up in backups and in version control: take the password out and change it';
    return {
      path,
      unknownKey: key,
      expected: nameReference(key),
      suggestion: null,
      found: 'a literal password',
      hint,
    };
  }
  const keys = keysAt(FileSchema, parent);
  const suggestion = suggestWord(key, keys);
  return {
    path,
    unknownKey: key,
    expected: `one of ${listKeys(keys)}`,
    suggestion,
    found: `unknown key ${describeFound(key)}`,
    hint: null,
  };
}

/** The keys that a literal secret should have been. */
function nameReference(key: string): string {
  const stem = /^(secret|token)$/i.test(key) ? key.toLowerCase() : 'password';
  return `${stem}File or ${stem}Env`;
}

function describeValue(issue: Issue, path: Path, value: unknown): Fault {
  const last = path.at(-1);
  // a password that was put where its file or variable belongs must not be printed
  const secret =
    typeof last === 'string' &&
    /^(password|secret|token)/i.test(last) &&
    typeof value === 'string' &&
    value !== '';
  const found = secret ? 'a text that is not shown' : describeFound(value);
  return {
    path,
    unknownKey: null,
    expected: issue.message,
    suggestion: suggestValue(issue, last, value),
    found,
    hint: null,
  };
}

function suggestValue(issue: Issue, key: string | number | undefined, value: unknown): string | null {
  if (typeof value !== 'string') return null;
  if (key === 'timeZone') return suggestWord(value, listTimeZones());
  if (issue.code !== 'invalid_value') return null;
  return suggestWord(value, issue.values.map(String));
}

/** What is left of the file without its faulty parts; `replaced`: parts that something else now stands in for. */
function parseRest(
  value: unknown,
  faults: readonly Fault[],
): { content: FileContent | null; replaced: Path[] } {
  const rest = structuredClone(value);
  const replaced: Path[] = [];
  let toRepair = faults;
  for (let round = 0; round < ROUNDS_MAX && isContainer(rest); round += 1) {
    replaced.push(...repairFaults(rest, toRepair));
    const result = FileSchema.safeParse(rest);
    if (result.success) return { content: result.data, replaced };
    toRepair = result.error.issues.flatMap((issue) => listFaults(issue, [], rest));
  }
  return { content: null, replaced };
}
