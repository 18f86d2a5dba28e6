/** Sensor and motor names as small integers, so that a row need not spell them. */
import type Database from 'better-sqlite3';

export class NameTable {
  private readonly ids = new Map<string, number>();
  private readonly texts = new Map<number, string>();

  constructor(private readonly db: Database.Database) {
    this.reload();
  }

  /** Forgets what a rollback took back. */
  reload(): void {
    this.ids.clear();
    this.texts.clear();
    for (const [id, text] of this.db.prepare('SELECT id, text FROM name').raw().all() as [number, string][])
      this.keep(id, text);
  }

  private keep(id: number, text: string): void {
    this.ids.set(text, id);
    this.texts.set(id, text);
  }

  /** The id of a name; a new one is given one. */
  id(text: string): number {
    const known = this.ids.get(text);
    if (known !== undefined) return known;
    const { lastInsertRowid } = this.db.prepare('INSERT INTO name (text) VALUES (?)').run(text);
    this.keep(Number(lastInsertRowid), text);
    return Number(lastInsertRowid);
  }

  /** The id of a name, or −1 when nothing was ever stored under it. */
  find(text: string): number {
    return this.ids.get(text) ?? -1;
  }

  text(id: number): string {
    return this.texts.get(id) ?? `unknown-${id}`;
  }
}
