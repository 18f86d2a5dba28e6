/** A connection that reads: its prepared statements, and the names behind the numbers. */
import type Database from 'better-sqlite3';
import { Statements, type Cell, type Cells } from './statements.js';

export class ReadConnection {
  readonly #statements: Statements;

  constructor(readonly db: Database.Database) {
    this.#statements = new Statements(db);
  }

  all(sql: string, ...values: unknown[]): Cells[] {
    return this.#statements.all(sql, ...values);
  }

  /** The first cell of the first row; null: there is none. */
  value(sql: string, ...values: unknown[]): Cell {
    return this.#statements.value(sql, ...values);
  }

  /** Sensors that anything was ever stored of, in alphabetical order, with their ids. `sensor` null: all. */
  sensorIds(sensor: string | null): { id: number; key: string }[] {
    return this.#namesOf('SELECT sensor FROM chain', sensor);
  }

  /** Motors that have transients, in alphabetical order, with their ids. `motor` null: all. */
  motorIds(motor: string | null): { id: number; key: string }[] {
    return this.#namesOf('SELECT motor FROM transient', motor);
  }

  #namesOf(ids: string, only: string | null): { id: number; key: string }[] {
    const rows = this.all(
      `SELECT id, text FROM name WHERE id IN (${ids}) AND (? IS NULL OR text = ?) ORDER BY text`,
      only,
      only,
    );
    return (rows as [number, string][]).map(([id, key]) => ({ id, key }));
  }

  close(): void {
    this.db.close();
  }
}
