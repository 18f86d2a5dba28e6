/** The sources as the compiler reads them: files, their imports, their functions. */
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { dirname, join, posix, relative, sep } from 'node:path';
import ts from 'typescript';
import { repositoryRoot } from '../support/repository.js';

export interface Import {
  /** as written */
  readonly specifier: string;
  /** path from the root with `.ts` or `.tsx`, when it is one of ours; null for packages and Node.js */
  readonly file: string | null;
  /** erased by the compiler */
  readonly isTypeOnly: boolean;
  /** named by `new URL('./….js', import.meta.url)`: run as a thread or a process, not imported */
  readonly isRun: boolean;
}

export interface Source {
  /** path from the root, with slashes */
  readonly path: string;
  readonly text: string;
  readonly tree: ts.SourceFile;
  readonly imports: readonly Import[];
}

const root = repositoryRoot();

function listFiles(folder: string): string[] {
  return readdirSync(join(root, folder), { withFileTypes: true }).flatMap((entry) => {
    const path = posix.join(folder, entry.name);
    if (entry.isDirectory()) return entry.name === 'generated' ? [] : listFiles(path);
    return /\.tsx?$/.test(entry.name) ? [path] : [];
  });
}

/** All TypeScript sources below a folder, parsed. */
export function readSources(folder: string): Source[] {
  return listFiles(folder).map((path) => {
    const text = readFileSync(join(root, path), 'utf8');
    return parseSource(path, text);
  });
}

/** One source from its text. `path` from the root. */
export function parseSource(path: string, text: string): Source {
  const kind = path.endsWith('x') ? ts.ScriptKind.TSX : ts.ScriptKind.TS;
  const tree = ts.createSourceFile(path, text, ts.ScriptTarget.ES2023, true, kind);
  return { path, text, tree, imports: findImports(path, tree) };
}

function resolveFile(from: string, specifier: string): string | null {
  if (!specifier.startsWith('.')) return null;
  const full = join(root, dirname(from), specifier);
  const file = relative(root, full).split(sep).join('/').replace(/\.js$/, '.ts');
  // a component has the other ending, and is imported by the same name
  return existsSync(join(root, `${file}x`)) ? `${file}x` : file;
}

function isTypeOnlyImport(node: ts.ImportDeclaration): boolean {
  const clause = node.importClause;
  if (clause === undefined) return false;
  if (clause.phaseModifier === ts.SyntaxKind.TypeKeyword) return true;
  const named = clause.namedBindings;
  if (clause.name !== undefined || named === undefined || !ts.isNamedImports(named)) return false;
  return named.elements.length > 0 && named.elements.every((element) => element.isTypeOnly);
}

/** Imports, re-exports, `import()` of values and of types, and files named by `new URL('./…', import.meta.url)`. */
function findImports(path: string, tree: ts.SourceFile): Import[] {
  const found: Import[] = [];
  const add = (specifier: string, isTypeOnly: boolean, isRun = false): void => {
    found.push({ specifier, file: resolveFile(path, specifier), isTypeOnly, isRun });
  };
  const visit = (node: ts.Node): void => {
    if (ts.isImportDeclaration(node) && ts.isStringLiteral(node.moduleSpecifier)) {
      add(node.moduleSpecifier.text, isTypeOnlyImport(node));
    } else if (
      ts.isExportDeclaration(node) &&
      node.moduleSpecifier !== undefined &&
      ts.isStringLiteral(node.moduleSpecifier)
    ) {
      add(node.moduleSpecifier.text, node.isTypeOnly);
    } else if (
      ts.isImportTypeNode(node) &&
      ts.isLiteralTypeNode(node.argument) &&
      ts.isStringLiteral(node.argument.literal)
    ) {
      add(node.argument.literal.text, true);
    } else if (ts.isCallExpression(node) && node.expression.kind === ts.SyntaxKind.ImportKeyword) {
      const [first] = node.arguments;
      if (first !== undefined && ts.isStringLiteral(first)) add(first.text, false);
    } else if (ts.isNewExpression(node) && node.expression.getText(tree) === 'URL') {
      const first = node.arguments?.[0];
      if (first !== undefined && ts.isStringLiteral(first) && first.text.endsWith('.js'))
        add(first.text, false, true);
    }
    ts.forEachChild(node, visit);
  };
  visit(tree);
  return found;
}

export interface FunctionSpan {
  readonly name: string;
  readonly line: number;
  readonly lines: number;
}

/** Every function, method and arrow function with a body, with its length in lines. */
export function findFunctions(source: Source): FunctionSpan[] {
  const spans: FunctionSpan[] = [];
  const lineOf = (position: number): number => source.tree.getLineAndCharacterOfPosition(position).line + 1;
  const visit = (node: ts.Node): void => {
    if (ts.isFunctionLike(node) && 'body' in node && node.body !== undefined) {
      const from = lineOf(node.getStart(source.tree));
      const to = lineOf(node.getEnd());
      const own = 'name' in node && node.name !== undefined ? node.name.getText(source.tree) : '';
      const holder = ts.isVariableDeclaration(node.parent)
        ? node.parent.name.getText(source.tree)
        : '(no name)';
      spans.push({ name: own === '' ? holder : own, line: from, lines: to - from + 1 });
    }
    ts.forEachChild(node, visit);
  };
  visit(source.tree);
  return spans;
}
