/**
 * Remembers where in time the readings of a counter lie, by `seq`: increments are clustered by time, and without this a
 * late reading's neighbours could only be found by reading a sensor's whole history. A second index would do the same for
 * a third more bytes per reading; this is one small row for each 1,024 readings.
 */
import type { Prepared, Statements } from './statements.js';

const PART_ROWS = 1024;
/** Bounds are widened to whole hours, so that they are written once an hour and not with each reading. */
const STEP_MS = 3_600_000;

interface Part {
  part: number;
  least: number;
  most: number;
}

/** `[part, least_to, most_to]`, both bounds included */
export type PartCells = [part: number, leastTo: number, mostTo: number];

export function partOf(seq: number): number {
  return Math.floor(seq / PART_ROWS);
}

export function firstSeqOf(part: number): number {
  return part * PART_ROWS;
}

export class ChainParts {
  /** by chain, the part written last; its bounds may be narrower than those stored, never wider */
  readonly #last = new Map<number, Part>();
  readonly #widen: Prepared;

  constructor(private readonly statements: Statements) {
    this.#widen = statements.prepare(
      `INSERT INTO chain_part (chain, part, least_to, most_to) VALUES (?, ?, ?, ?)
       ON CONFLICT DO UPDATE SET least_to = min(least_to, excluded.least_to), most_to = max(most_to, excluded.most_to)`,
    );
  }

  /** Forgets what a rollback took back. */
  reload(): void {
    this.#last.clear();
  }

  /** Call for every reading that is inserted and has a `seq`. */
  note(chain: number, seq: number, to: number): void {
    const part = partOf(seq);
    const last = this.#last.get(chain);
    const known = last !== undefined && last.part === part;
    if (known && to >= last.least && to <= last.most) return;
    const start = Math.floor(to / STEP_MS) * STEP_MS;
    const least = known ? Math.min(last.least, start) : start;
    const most = known ? Math.max(last.most, start + STEP_MS - 1) : start + STEP_MS - 1;
    this.#widen.run(chain, part, least, most);
    this.#last.set(chain, { part, least, most });
  }

  /** Parts of a chain from `first` to `last`, both included, in order. */
  between(chain: number, first: number, last: number): PartCells[] {
    return this.statements.all(
      'SELECT part, least_to, most_to FROM chain_part WHERE chain = ? AND part BETWEEN ? AND ? ORDER BY part',
      chain,
      first,
      last,
    ) as PartCells[];
  }

  /** The nearest part below, or above; undefined: there is none. */
  next(chain: number, part: number, direction: 'before' | 'after'): PartCells | undefined {
    const sql =
      direction === 'before'
        ? 'SELECT part, least_to, most_to FROM chain_part WHERE chain = ? AND part < ? ORDER BY part DESC LIMIT 1'
        : 'SELECT part, least_to, most_to FROM chain_part WHERE chain = ? AND part > ? ORDER BY part LIMIT 1';
    return this.statements.all(sql, chain, part)[0] as PartCells | undefined;
  }
}
