/**
 * Prepared statements, each prepared once. A test may watch them: it is told the number of every statement before it
 * runs, and whatever it throws is a failure of that statement. Unwatched, a statement is better-sqlite3's own.
 */
import type Database from 'better-sqlite3';

export interface Prepared {
  run(...values: unknown[]): Database.RunResult;
  /** the first row as an array of its cells; undefined: none */
  get(...values: unknown[]): unknown;
  /** rows as arrays of their cells */
  all(...values: unknown[]): unknown[];
}

export type Cell = number | string | null;
export type Cells = Cell[];

export class Statements {
  readonly #kept = new Map<string, Prepared>();
  readonly #watch: ((number: number) => void) | undefined;
  #number = 0;

  constructor(
    readonly db: Database.Database,
    watch?: (number: number) => void,
  ) {
    this.#watch = watch;
  }

  /** Asked twice for the same text, it gives the same statement. */
  prepare(sql: string): Prepared {
    const kept = this.#kept.get(sql);
    if (kept !== undefined) return kept;
    const bare = this.db.prepare(sql);
    if (bare.reader) bare.raw();
    const prepared = this.#watch === undefined ? bare : this.#watched(bare, this.#watch);
    this.#kept.set(sql, prepared);
    return prepared;
  }

  all(sql: string, ...values: unknown[]): Cells[] {
    return this.prepare(sql).all(...values) as Cells[];
  }

  /** The first cell of the first row; null: there is none, or it is null. */
  value(sql: string, ...values: unknown[]): Cell {
    return (this.prepare(sql).get(...values) as Cells | undefined)?.[0] ?? null;
  }

  #watched(bare: Database.Statement, watch: (number: number) => void): Prepared {
    return {
      run: (...values) => {
        watch(++this.#number);
        return bare.run(...values);
      },
      get: (...values) => {
        watch(++this.#number);
        return bare.get(...values);
      },
      all: (...values) => {
        watch(++this.#number);
        return bare.all(...values);
      },
    };
  }
}
