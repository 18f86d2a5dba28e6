/** Writes counters, readings with their increments, and segments. */
import type { Outputs } from '../core/rows.js';
import { ChainParts } from './chain-parts.js';
import type { IncrementTable } from './increment-table.js';
import type { NameTable } from './names.js';
import type { Prepared, Statements } from './statements.js';

export class IncrementWriter {
  readonly parts: ChainParts;
  readonly #putChain: Prepared;
  readonly #putSegment: Prepared;
  readonly #removeSegment: Prepared;

  constructor(
    private readonly names: NameTable,
    private readonly table: IncrementTable,
    statements: Statements,
  ) {
    this.parts = new ChainParts(statements);
    this.#putChain = statements.prepare('INSERT OR REPLACE INTO chain VALUES (?, ?, ?, ?)');
    this.#putSegment = statements.prepare(
      'INSERT OR REPLACE INTO segment VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)',
    );
    this.#removeSegment = statements.prepare(
      'DELETE FROM segment WHERE chain = ? AND start_to = ? AND start_seq = ?',
    );
  }

  /**
   * Throws when a row is new to the core but not to the store. The other way round is no fault: retention may have taken
   * a row that a silent sensor's state still holds.
   */
  write(out: Outputs): void {
    const { names, table } = this;
    for (const c of out.chains) this.#putChain.run(c.id, names.id(c.sensor), c.device, c.boot);
    for (const row of out.removedIncrements) table.remove(names.id(row.sensor), row);
    for (const row of out.increments) {
      const sensor = names.id(row.sensor);
      if (row.stored) {
        table.update(sensor, row);
        continue;
      }
      table.insert(sensor, row);
      if (row.seq !== null) this.parts.note(row.chain, row.seq, row.to);
      row.stored = true;
    }
    table.flush();
    this.#writeSegments(out);
  }

  #writeSegments(out: Outputs): void {
    for (const s of out.removedSegments) this.#removeSegment.run(s.chain, s.startTo, s.startSeq);
    for (const s of out.segments) {
      this.#putSegment.run(
        this.names.id(s.sensor),
        s.chain,
        s.startTo,
        s.startSeq,
        s.firstCount,
        s.lastTo,
        s.lastSeq,
        s.lastCount,
        s.wraps,
        s.modulus,
        s.openedBy,
        s.unknownReason,
        s.unknownFrom,
        s.unknownTo,
        s.unknownLow,
        s.unknownHigh,
      );
    }
  }
}
