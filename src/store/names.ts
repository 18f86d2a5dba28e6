/** Names of sensors, motors and zones as small integers, so that a row need not spell them. */
import type { Prepared, Statements } from './statements.js';

export class NameTable {
  readonly #ids = new Map<string, number>();
  readonly #texts = new Map<number, string>();
  readonly #insert: Prepared;

  constructor(private readonly statements: Statements) {
    this.#insert = statements.prepare('INSERT INTO name (text) VALUES (?)');
    this.reload();
  }

  /** Forgets what a rollback took back. */
  reload(): void {
    this.#ids.clear();
    this.#texts.clear();
    for (const [id, text] of this.statements.db.prepare('SELECT id, text FROM name').raw().all() as [
      number,
      string,
    ][])
      this.#keep(id, text);
  }

  #keep(id: number, text: string): void {
    this.#ids.set(text, id);
    this.#texts.set(id, text);
  }

  /** The id of a name; a new one is given one. */
  id(text: string): number {
    const known = this.#ids.get(text);
    if (known !== undefined) return known;
    const id = Number(this.#insert.run(text).lastInsertRowid);
    this.#keep(id, text);
    return id;
  }

  /** The id of a name, or −1 when nothing was ever stored under it. */
  find(text: string): number {
    return this.#ids.get(text) ?? -1;
  }

  text(id: number): string {
    const text = this.#texts.get(id);
    if (text === undefined) throw new Error(`no name has the id ${id}`);
    return text;
  }
}
