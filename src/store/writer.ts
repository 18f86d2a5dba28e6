/** Writes one step's outputs, in the order of the fields of `Outputs`, inside the transaction that the engine opened. */
import type { Outputs } from '../core/rows.js';
import type { NameTable } from './names.js';
import { OutboxWriter } from './outbox-writer.js';
import type { RollupRow } from './rollup-row.js';
import type { Statements } from './statements.js';
import { IncrementWriter } from './write-increments.js';
import { MaintenanceWriter } from './write-maintenance.js';
import { MotorWriter } from './write-motors.js';
import { RecordWriter } from './write-records.js';
import { RollupWriter } from './write-rollups.js';
import type { ZoneReach } from './zone-reach.js';

export type { RollupRow };

/** What the outputs changed and others are told of: whole rows with their revision, revised 10 s windows among them. */
export interface Applied {
  rollups: RollupRow[];
  /** number of the first entry of the journal, the others follow it; null: there is none */
  journalFrom: number | null;
}

export class OutputWriter {
  readonly increments: IncrementWriter;
  readonly records: RecordWriter;
  /** null: nothing is forwarded */
  readonly outbox: OutboxWriter | null;
  readonly #rollups: RollupWriter;
  readonly #motors: MotorWriter;
  readonly #maintenance: MaintenanceWriter;

  constructor(names: NameTable, reach: ZoneReach, statements: Statements, forwards: boolean) {
    this.increments = new IncrementWriter(names, statements);
    this.#rollups = new RollupWriter(names, statements);
    this.#motors = new MotorWriter(names, reach, statements);
    this.#maintenance = new MaintenanceWriter(names, statements);
    this.records = new RecordWriter(statements);
    this.outbox = forwards ? new OutboxWriter(names, statements) : null;
  }

  apply(out: Outputs, isTold: boolean): Applied {
    this.increments.write(out);
    this.#motors.writeDrives(out);
    const rollups = this.#rollups.write(out, isTold);
    this.#motors.writeTransients(out);
    this.#motors.writeZones(out);
    this.#maintenance.write(out);
    const journalFrom = this.records.write(out);
    this.outbox?.note(out);
    return { rollups, journalFrom };
  }
}
