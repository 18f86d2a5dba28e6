/**
 * Text to values that still know their line: YAML 1.2 with a position for every key and value.
 * Why limits here: the file may come from anyone who can edit it, and a few bytes of aliases or brackets can ask
 * for gigabytes or for a stack without end.
 */
import { isAlias, isMap, isScalar, isSeq, LineCounter, parseDocument, visit } from 'yaml';
import type { Document, Node, Pair, Scalar, YAMLError, YAMLMap } from 'yaml';
import type { Path, Problem } from './problem.js';

/** Longest configuration text. Our choice: a thousand motors written out one by one fit. */
export const TEXT_BYTES_MAX = 1_048_576;
/** Most times that aliases may be expanded, the package's own default. */
const ALIAS_COUNT_MAX = 100;

/** Most faults of the text that are told. */
const FAULTS_MAX = 50;

/** A place in the file, from 1. */
export interface Place {
  readonly line: number;
  readonly column: number;
}

/** A parsed file: its plain value, and where each part of it stands. */
export interface Source {
  readonly file: string;
  readonly value: unknown;
  /** True when the file has a key or item at this path. */
  has(path: Path): boolean;
  /** Where the key or value at `path` stands; for a path that the file lacks, the nearest part above that it has. */
  locate(path: Path, what: 'key' | 'value'): Place;
}

/** `source` null: the text is no YAML that values could be taken from. Repeated keys leave a source to check further. */
export function readSource(text: string, file: string): { source: Source | null; problems: Problem[] } {
  const size = Buffer.byteLength(text);
  if (size > TEXT_BYTES_MAX) {
    const found = `${size} bytes`;
    return { source: null, problems: [wholeFile(file, `at most ${TEXT_BYTES_MAX} bytes of YAML`, found)] };
  }
  const lines = new LineCounter();
  // the package's own search for repeated keys takes minutes on a long mapping
  const document = parseDocument(text, { lineCounter: lines, prettyErrors: false, uniqueKeys: false });
  const faults = [...document.errors, ...document.warnings];
  const problems = faults.slice(0, FAULTS_MAX).map((fault) => describeFault(fault, text, file, lines));
  if (faults.length > 0) return { source: null, problems };
  try {
    const keys = judgeKeys(document);
    const oddKeys = keys.odd
      .slice(0, FAULTS_MAX)
      .map((key) => describeKey(key, 'a word as key', 'a list or mapping', lines, file));
    if (oddKeys.length > 0) return { source: null, problems: oddKeys };
    for (const key of keys.repeated.slice(0, FAULTS_MAX)) {
      problems.push(describeKey(key, 'every key once', `"${String(key.value)}" a second time`, lines, file));
    }
    const value: unknown = document.toJS({ maxAliasCount: ALIAS_COUNT_MAX });
    return { source: openSource(document, value, file, lines), problems };
  } catch (error) {
    // the package throws ReferenceError for aliases, the engine RangeError when the stack is used up
    if (!(error instanceof Error) || !['ReferenceError', 'RangeError'].includes(error.name)) throw error;
    const found = error.name === 'RangeError' ? 'nesting without end' : lowerFirst(error.message);
    return { source: null, problems: [...problems, wholeFile(file, 'few and resolvable aliases', found)] };
  }
}

/** A problem of the file as a whole. */
export function wholeFile(file: string, expected: string, found: string): Problem {
  return { file, line: 1, column: 1, path: '', expected, found, suggestion: null, hint: null };
}

function describeFault(fault: YAMLError, text: string, file: string, lines: LineCounter): Problem {
  const place = { file, ...placeOf(fault.pos[0], lines), path: '', suggestion: null };
  if (fault.code === 'RESOURCE_EXHAUSTION') {
    return { ...place, expected: 'a few levels of nesting', found: 'nesting without end', hint: null };
  }
  const lineText = text.slice(text.lastIndexOf('\n', fault.pos[0] - 1) + 1).split('\n', 1)[0] ?? '';
  const braces = /[[,]\s*[a-z0-9-]*\{/.test(lineText);
  const hint = braces ? 'inside [ ] put quotes around a name with braces: ["booster-{1..6}"]' : null;
  return { ...place, expected: 'valid YAML', found: `a fault: ${lowerFirst(fault.message)}`, hint };
}

function describeKey(
  key: unknown,
  expected: string,
  found: string,
  lines: LineCounter,
  file: string,
): Problem {
  const place = placeOf(offsetOf(key) ?? 0, lines);
  return { file, ...place, path: '', expected, found, suggestion: null, hint: null };
}

/** Keys that stand twice in a mapping, and keys that are no words: YAML allows `{a: 1}: 2`. */
function judgeKeys(document: Document.Parsed): { repeated: Scalar[]; odd: unknown[] } {
  const repeated: Scalar[] = [];
  const odd: unknown[] = [];
  visit(document, {
    Map(_, map) {
      const seen = new Set<string>();
      for (const { key } of map.items) {
        if (!isScalar(key)) {
          odd.push(key);
          continue;
        }
        if (seen.has(String(key.value))) repeated.push(key);
        seen.add(String(key.value));
      }
    },
  });
  return { repeated, odd };
}

function openSource(document: Document.Parsed, value: unknown, file: string, lines: LineCounter): Source {
  const offsets = (path: Path): { key: number; value: number; found: boolean } => {
    let node: unknown = document.contents;
    let key = offsetOf(node) ?? 0;
    let at = key;
    for (const part of path) {
      const inner = enter(node, part, document);
      if (inner === null) return { key, value: at, found: false };
      node = inner.value;
      key = inner.key ?? offsetOf(node) ?? at;
      at = offsetOf(node) ?? key;
    }
    return { key, value: at, found: true };
  };
  return {
    file,
    value,
    has: (path) => offsets(path).found,
    locate: (path, what) => {
      const found = offsets(path);
      return placeOf(found.found && what === 'value' ? found.value : found.key, lines);
    },
  };
}

/** Looked up for every fault, so built once a mapping. */
const pairsByMap = new WeakMap<YAMLMap, ReadonlyMap<string, Pair>>();

function enter(
  node: unknown,
  part: string | number,
  document: Document.Parsed,
): { key: number | null; value: unknown } | null {
  const target: unknown = isAlias(node) ? node.resolve(document) : node;
  if (isSeq(target)) {
    const item: unknown = typeof part === 'number' ? target.items[part] : undefined;
    return item === undefined ? null : { key: null, value: item };
  }
  if (!isMap(target)) return null;
  const pair = pairsOf(target).get(String(part));
  return pair === undefined ? null : { key: offsetOf(pair.key), value: pair.value };
}

/** Of a repeated key the last one counts, and so it is the one to point at. */
function pairsOf(map: YAMLMap): ReadonlyMap<string, Pair> {
  const known = pairsByMap.get(map);
  if (known !== undefined) return known;
  const pairs = map.items.flatMap((pair) =>
    isScalar(pair.key) ? [[String(pair.key.value), pair] as const] : [],
  );
  const index = new Map<string, Pair>(pairs);
  pairsByMap.set(map, index);
  return index;
}

function placeOf(offset: number, lines: LineCounter): Place {
  const { line, col } = lines.linePos(offset);
  return { line: Math.max(1, line), column: Math.max(1, col) };
}

function offsetOf(node: unknown): number | null {
  return (node as Node | null | undefined)?.range?.[0] ?? null;
}

function lowerFirst(text: string): string {
  return text.charAt(0).toLowerCase() + text.slice(1);
}
