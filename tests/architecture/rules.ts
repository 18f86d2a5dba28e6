/** The rules of the house, each a function from sources to sentences; none: the rule is kept. */
import ts from 'typescript';
import { findFunctions, type Source } from './sources.js';

/** What a room may import besides itself. `types`: only what the compiler erases. */
interface Allowed {
  readonly values: readonly string[];
  readonly types: readonly string[];
}

/** Rooms that are not listed may import nothing of ours. */
export const IMPORT_TABLE: Readonly<Record<string, Allowed>> = {
  shared: { values: [], types: [] },
  stats: { values: [], types: ['shared'] },
  core: { values: ['stats'], types: ['shared'] },
  advice: { values: ['stats'], types: ['shared'] },
  store: { values: ['core', 'shared'], types: [] },
  engine: { values: ['core', 'stats', 'store', 'shared'], types: [] },
  rehearsal: { values: ['core', 'store'], types: [] },
  intake: { values: ['shared'], types: [] },
  config: { values: ['stats', 'shared'], types: ['core'] },
  notify: { values: ['shared'], types: [] },
  forward: { values: ['store', 'shared'], types: ['core'] },
  page: { values: ['shared'], types: ['api'] },
  plc: { values: ['shared'], types: ['core'] },
  simulator: { values: ['shared'], types: [] },
  api: { values: ['core', 'stats', 'advice', 'shared'], types: ['rehearsal'] },
  cli: {
    values: [
      'core',
      'stats',
      'advice',
      'store',
      'engine',
      'intake',
      'config',
      'notify',
      'forward',
      'plc',
      'api',
      'rehearsal',
      'shared',
      'gateway',
    ],
    types: [],
  },
};

/** Files that introduce rooms to one another. */
const WIRING = /^src\/(main|gateway|gateway-[a-z-]+)\.ts$/;
const PURE_ROOMS = ['core', 'stats', 'advice'];
const FILE_LINES_MAX = 300;
const FUNCTION_LINES_MAX = 70;

/** `src/core/step.ts` -> core; `shared/topics.ts` -> shared; `src/gateway.ts` -> gateway. */
export function roomOf(path: string): string {
  const [first = '', second = ''] = path.split('/');
  return first === 'src' ? second.replace(/^gateway-[a-z-]+\.ts$/, 'gateway').replace(/\.ts$/, '') : first;
}

export function judgeImports(sources: readonly Source[]): string[] {
  return sources
    .filter(({ path }) => !WIRING.test(path))
    .flatMap((source) => {
      const room = roomOf(source.path);
      const allowed = IMPORT_TABLE[room] ?? { values: [], types: [] };
      return source.imports.flatMap(({ file, specifier, isTypeOnly, isRun }) => {
        if (file === null || isRun) return [];
        const other = roomOf(file);
        if (other === room || allowed.values.includes(other)) return [];
        if (isTypeOnly && allowed.types.includes(other)) return [];
        const how = allowed.types.includes(other) ? ' as a value; only types are allowed' : '';
        return [`${source.path} imports ${specifier} of ${other}${how}`];
      });
    });
}

const BANNED_NAMES = [
  'Date',
  'process',
  'require',
  'performance',
  'setTimeout',
  'setInterval',
  'console',
  'globalThis',
  'crypto',
];

/** The pure rooms know no clock, no chance, no package and no Node.js, and leave nothing untyped. */
export function judgePurity(sources: readonly Source[]): string[] {
  return sources
    .filter(({ path }) => PURE_ROOMS.includes(roomOf(path)))
    .flatMap((source) => {
      const findings: string[] = [];
      const report = (node: ts.Node, what: string): void => {
        const { line } = source.tree.getLineAndCharacterOfPosition(node.getStart(source.tree));
        findings.push(`${source.path}:${line + 1} has ${what}`);
      };
      for (const { specifier, file } of source.imports) {
        if (file === null) findings.push(`${source.path} imports the package ${specifier}`);
      }
      const visit = (node: ts.Node): void => {
        if (node.kind === ts.SyntaxKind.AnyKeyword) report(node, 'any');
        if (ts.isIdentifier(node) && BANNED_NAMES.includes(node.text) && !isOwnName(node))
          report(node, node.text);
        if (ts.isPropertyAccessExpression(node) && node.getText(source.tree) === 'Math.random')
          report(node, 'Math.random');
        ts.forEachChild(node, visit);
      };
      visit(source.tree);
      return findings;
    });
}

/** A property that happens to be called so, `entry.process`, is not the global. */
function isOwnName(node: ts.Identifier): boolean {
  const { parent } = node;
  return (
    (ts.isPropertyAccessExpression(parent) && parent.name === node) ||
    ((ts.isPropertySignature(parent) || ts.isPropertyAssignment(parent)) && parent.name === node)
  );
}

export function judgeSizes(sources: readonly Source[]): string[] {
  return sources.flatMap((source) => {
    const findings: string[] = [];
    const lines = source.text.split('\n').length - 1;
    if (lines > FILE_LINES_MAX)
      findings.push(`${source.path} has ${lines} lines, at most ${FILE_LINES_MAX} are allowed`);
    if (source.path.startsWith('tests/') && source.path.endsWith('.test.ts')) return findings;
    for (const span of findFunctions(source)) {
      if (span.lines > FUNCTION_LINES_MAX) {
        findings.push(
          `${source.path}:${span.line} ${span.name} has ${span.lines} lines, at most ${FUNCTION_LINES_MAX} are allowed`,
        );
      }
    }
    return findings;
  });
}

const BANNED_FILES = /(^|[/-])(utils?|helpers?|managers?|index|common-functions|misc)\.tsx?$/;

/** No default exports, no files that only hand on other files' names, no names that say nothing. */
export function judgeExports(sources: readonly Source[]): string[] {
  return sources.flatMap((source) => {
    const findings: string[] = [];
    if (BANNED_FILES.test(source.path))
      findings.push(`${source.path}: the name says nothing about what is in it`);
    const { statements } = source.tree;
    for (const statement of statements) {
      if (ts.isExportAssignment(statement)) findings.push(`${source.path} has a default export`);
      const modifiers = ts.canHaveModifiers(statement) ? (ts.getModifiers(statement) ?? []) : [];
      if (modifiers.some(({ kind }) => kind === ts.SyntaxKind.DefaultKeyword))
        findings.push(`${source.path} has a default export`);
      if (ts.isExportDeclaration(statement) && statement.exportClause === undefined)
        findings.push(`${source.path} exports everything of another file`);
    }
    const isBarrel =
      statements.length > 0 &&
      statements.every((s) => ts.isExportDeclaration(s) && s.moduleSpecifier !== undefined);
    if (isBarrel) findings.push(`${source.path} only hands on what other files export`);
    return findings;
  });
}

/** Cycles among imports that remain at run time. Each cycle is told once. */
export function judgeCycles(sources: readonly Source[]): string[] {
  const edges = new Map(
    sources.map(({ path, imports }) => [
      path,
      imports.filter((i) => !i.isTypeOnly && !i.isRun).flatMap((i) => i.file ?? []),
    ]),
  );
  const done = new Set<string>();
  const findings = new Set<string>();
  const visit = (path: string, trail: readonly string[]): void => {
    const start = trail.indexOf(path);
    if (start >= 0) {
      const cycle = trail.slice(start);
      const least = cycle.indexOf([...cycle].sort()[0]!);
      findings.add([...cycle.slice(least), ...cycle.slice(0, least)].join(' -> '));
      return;
    }
    if (done.has(path)) return;
    for (const next of edges.get(path) ?? []) visit(next, [...trail, path]);
    done.add(path);
  };
  for (const path of edges.keys()) visit(path, []);
  return [...findings];
}

/** Files of `sources` that none of the entries reaches, by any import. */
export function judgeReach(sources: readonly Source[], entries: readonly string[]): string[] {
  const byPath = new Map(sources.map((source) => [source.path, source]));
  const reached = new Set<string>();
  const open = [...entries];
  for (let path = open.pop(); path !== undefined; path = open.pop()) {
    if (reached.has(path)) continue;
    reached.add(path);
    for (const { file } of byPath.get(path)?.imports ?? []) if (file !== null) open.push(file);
  }
  return [...byPath.keys()].filter((path) => !reached.has(path)).map((path) => `nothing imports ${path}`);
}
