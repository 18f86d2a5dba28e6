/** Writes counters, readings with their increments, and segments. */
import type { Increment, Outputs } from '../core/rows.js';
import { ChainParts } from './chain-parts.js';
import type { NameTable } from './names.js';
import type { Prepared, Statements } from './statements.js';

const COLUMNS = 13;
/** Rows of one INSERT: each call of a statement costs as much as two rows. */
const CHUNK_ROWS = 16;
const ROW = `(${Array<string>(COLUMNS).fill('?').join(', ')})`;

/** In batches from this size on, rows are written sensor by sensor: the tree is by sensor, and neighbours share a page. */
const SORTED_ROWS_MIN = 4096;

function groupRows(rows: readonly Increment[]): Increment[] {
  const groups = new Map<string, Increment[]>();
  for (const row of rows) {
    const group = groups.get(row.sensor);
    if (group === undefined) groups.set(row.sensor, [row]);
    else group.push(row);
  }
  return [...groups.values()].flat();
}

export class IncrementWriter {
  readonly parts: ChainParts;
  readonly #insertChunk: Prepared;
  readonly #insert: Prepared;
  readonly #update: Prepared;
  readonly #remove: Prepared;
  readonly #putChain: Prepared;
  readonly #putSegment: Prepared;
  readonly #removeSegment: Prepared;
  readonly #chunk = new Array<number | null>(COLUMNS * CHUNK_ROWS).fill(0);
  readonly #one = new Array<number | null>(COLUMNS).fill(0);

  constructor(
    private readonly names: NameTable,
    statements: Statements,
  ) {
    this.parts = new ChainParts(statements);
    this.#insertChunk = statements.prepare(
      `INSERT INTO increment VALUES ${Array<string>(CHUNK_ROWS).fill(ROW).join(', ')}`,
    );
    this.#insert = statements.prepare(`INSERT INTO increment VALUES ${ROW}`);
    this.#update = statements.prepare(
      `UPDATE increment SET duration = ?, count = ?, up_ms = ?, pulses = ?, class = ?, reason = ?, flags = ?, bin = ?
       WHERE sensor = ? AND to_ms = ? AND chain = ? AND seq = ?`,
    );
    this.#remove = statements.prepare(
      'DELETE FROM increment WHERE sensor = ? AND to_ms = ? AND chain = ? AND seq = ?',
    );
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
    for (const c of out.chains) this.#putChain.run(c.id, this.names.id(c.sensor), c.device, c.boot);
    for (const r of out.removedIncrements)
      this.#remove.run(this.names.id(r.sensor), r.to, r.chain, r.seq ?? -1);
    this.#writeRows(out.increments);
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

  #writeRows(rows: readonly Increment[]): void {
    const chunk = this.#chunk;
    let filled = 0;
    for (const row of rows.length < SORTED_ROWS_MIN ? rows : groupRows(rows)) {
      if (row.stored) {
        this.#updateRow(row);
        continue;
      }
      this.#fill(chunk, filled * COLUMNS, row);
      if (row.seq !== null) this.parts.note(row.chain, row.seq, row.to);
      row.stored = true;
      filled += 1;
      if (filled < CHUNK_ROWS) continue;
      this.#insertChunk.run(chunk);
      filled = 0;
    }
    for (let i = 0; i < filled; i++) {
      for (let column = 0; column < COLUMNS; column++) this.#one[column] = chunk[i * COLUMNS + column]!;
      this.#insert.run(this.#one);
    }
  }

  #updateRow(row: Increment): void {
    this.#update.run(
      row.to - row.from,
      row.count,
      row.upMs,
      row.pulses,
      row.class,
      row.reason,
      row.flags,
      row.bin === '' ? null : this.names.id(row.bin),
      this.names.id(row.sensor),
      row.to,
      row.chain,
      row.seq ?? -1,
    );
  }

  #fill(cells: (number | null)[], at: number, row: Increment): void {
    cells[at] = this.names.id(row.sensor);
    cells[at + 1] = row.to;
    cells[at + 2] = row.chain;
    cells[at + 3] = row.seq ?? -1;
    cells[at + 4] = row.to - row.from;
    cells[at + 5] = row.count;
    cells[at + 6] = row.upMs;
    cells[at + 7] = row.pulses;
    cells[at + 8] = row.class;
    cells[at + 9] = row.reason;
    cells[at + 10] = row.flags;
    cells[at + 11] = row.temperature;
    cells[at + 12] = row.bin === '' ? null : this.names.id(row.bin);
  }
}
