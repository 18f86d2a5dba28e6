/** Writes what people enter about motors. A row that is there already changes in one way only: it is withdrawn. */
import type { Outputs } from '../core/rows.js';
import type { Finding, MaintenanceAction } from '../core/maintenance-rows.js';
import { ACTION_COLUMNS, FINDING_COLUMNS } from './maintenance-rows.js';
import type { NameTable } from './names.js';
import type { Prepared, Statements } from './statements.js';

function preparePut(statements: Statements, table: string, columns: string): Prepared {
  const values = columns
    .split(',')
    .map(() => '?')
    .join(', ');
  return statements.prepare(
    `INSERT INTO ${table} (${columns}) VALUES (${values}) ON CONFLICT DO UPDATE SET
     withdrawn_at = excluded.withdrawn_at, withdrawn_by = excluded.withdrawn_by, withdrawn_note = excluded.withdrawn_note`,
  );
}

export class MaintenanceWriter {
  readonly #putAction: Prepared;
  readonly #putFinding: Prepared;

  constructor(
    private readonly names: NameTable,
    statements: Statements,
  ) {
    this.#putAction = preparePut(statements, 'maintenance_action', ACTION_COLUMNS);
    this.#putFinding = preparePut(statements, 'finding', FINDING_COLUMNS);
  }

  write(out: Outputs): void {
    for (const row of out.actions) {
      const { action, end, bearing, breaks } = row;
      this.#putAction.run(...this.#cellsOf(row), action, end, bearing, breaks);
    }
    for (const row of out.findings) {
      const lists = [row.modes, row.signs, row.lubricant].map((list) => JSON.stringify(list));
      this.#putFinding.run(...this.#cellsOf(row), row.end, row.removed ? 1 : 0, ...lists);
    }
  }

  #cellsOf(row: MaintenanceAction | Finding): unknown[] {
    const { id, motor, at, enteredAt, by, note, withdrawn } = row;
    const taken = withdrawn === null ? [null, null, null] : [withdrawn.at, withdrawn.by, withdrawn.note];
    return [id, this.names.id(motor), at, enteredAt, by, note, ...taken];
  }
}
