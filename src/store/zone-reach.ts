/**
 * How long the longest burst and the longest vote of each zone are. Both are indexed by their end; with this a question
 * about an old range need not read all that came after it.
 */
import type { Statements } from './statements.js';

export class ZoneReach {
  readonly #longest = { burst: new Map<number, number>(), vote: new Map<number, number>() };

  constructor(statements: Statements) {
    for (const table of ['burst', 'vote'] as const) {
      const rows = statements.db
        .prepare(`SELECT zone, max(to_ms - from_ms) FROM ${table} GROUP BY zone`)
        .raw()
        .all() as [number, number][];
      for (const [zone, ms] of rows) this.#longest[table].set(zone, ms);
    }
  }

  /** Rows taken back or deleted since leave it too long, which costs a little time and nothing else. */
  note(table: 'burst' | 'vote', zone: number, ms: number): void {
    if (ms > (this.#longest[table].get(zone) ?? -1)) this.#longest[table].set(zone, ms);
  }

  longest(table: 'burst' | 'vote', zone: number): number {
    return this.#longest[table].get(zone) ?? 0;
  }
}
