/**
 * Collects what the checks find, with its place in the file.
 * Why it filters: one mistyped key must not bring three more messages about what is therefore missing.
 */
import { formatPath, orderProblems } from './problem.js';
import type { Path, Problem } from './problem.js';
import type { Source } from './source.js';

/** `at`: point at the key or at the value; default the value. */
export interface ProblemExtra {
  readonly suggestion?: string | null;
  readonly hint?: string;
  readonly at?: 'key' | 'value';
}

export class Report {
  readonly #errors: Problem[] = [];
  readonly #warnings: Problem[] = [];
  readonly #source: Source;
  readonly #broken: Path[];

  /** `broken`: parts of the file already reported; nothing more is said about them. */
  constructor(source: Source, broken: readonly Path[]) {
    this.#source = source;
    this.#broken = [...broken];
  }

  error(path: Path, expected: string, found: string, extra: ProblemExtra = {}): void {
    if (!this.#isBroken(path)) this.#errors.push(this.#place(path, expected, found, extra));
  }

  warn(path: Path, expected: string, found: string, extra: ProblemExtra = {}): void {
    if (!this.#isBroken(path)) this.#warnings.push(this.#place(path, expected, found, extra));
  }

  /** Says nothing more about a part of the file. */
  ignore(path: Path): void {
    this.#broken.push(path);
  }

  get errors(): Problem[] {
    return orderProblems(this.#errors);
  }

  get warnings(): Problem[] {
    return orderProblems(this.#warnings);
  }

  #isBroken(path: Path): boolean {
    return this.#broken.some(
      (broken) => broken.every((part, i) => part === path[i]) || path.every((part, i) => part === broken[i]),
    );
  }

  #place(path: Path, expected: string, found: string, extra: ProblemExtra): Problem {
    const place = this.#source.locate(path, extra.at ?? 'value');
    const text = { path: formatPath(path), expected, found };
    return {
      file: this.#source.file,
      ...place,
      ...text,
      suggestion: extra.suggestion ?? null,
      hint: extra.hint ?? null,
    };
  }
}
