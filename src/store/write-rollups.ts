/** Adds to rollups, raises the revisions of windows, and keeps the spreads; answers with the rows as they now stand. */
import { addToBins } from '../core/bin-sums.js';
import type { BinSum, Outputs, RollupAdd, Spread } from '../core/rows.js';
import { Class, Flag, PERIOD_MS } from '../core/words.js';
import type { NameTable } from './names.js';
import { emptySums, ROLLUP_TABLES, sortBins, toSums, type RollupRow } from './rollup-row.js';
import { SUM_COLUMNS } from './schema.js';
import type { Prepared, Statements } from './statements.js';
import { BinWriter } from './write-bins.js';

const WINDOW_MS = PERIOD_MS['10s'];

type WindowCells = [cls: number, pulses: number, duration: number, flags: number, bin: number | null];

interface Adds {
  /** answers with the row as it then stands, which costs about as much again */
  readonly telling: Prepared;
  readonly silent: Prepared;
}

function prepareAdd(statements: Statements, table: string): Adds {
  const columns = SUM_COLUMNS.join(', ');
  const adds = SUM_COLUMNS.map((c) => `${c} = ${c} + excluded.${c}`).join(', ');
  const sql = `INSERT INTO ${table} (sensor, start, revision, ${columns}) VALUES (?, ?, 0, ${SUM_COLUMNS.map(() => '?').join(', ')})
     ON CONFLICT DO UPDATE SET revision = revision + 1, ${adds}`;
  return {
    telling: statements.prepare(`${sql} RETURNING revision, ${columns}`),
    silent: statements.prepare(sql),
  };
}

export class RollupWriter {
  readonly #adds: Record<RollupAdd['period'], Adds>;
  readonly #revise: Prepared;
  readonly #rowsOfWindow: Prepared;
  readonly #putSpread: Prepared;
  readonly #removeSpreads: Prepared;
  readonly #bins: BinWriter;
  readonly #cells = new Array<number>(2 + SUM_COLUMNS.length).fill(0);

  constructor(
    private readonly names: NameTable,
    statements: Statements,
  ) {
    this.#adds = {
      '1m': prepareAdd(statements, ROLLUP_TABLES['1m']),
      '10m': prepareAdd(statements, ROLLUP_TABLES['10m']),
      '1h': prepareAdd(statements, ROLLUP_TABLES['1h']),
    };
    this.#revise = statements.prepare(
      'INSERT INTO window_revision VALUES (?, ?, 1) ON CONFLICT DO UPDATE SET revision = revision + 1 RETURNING revision',
    );
    this.#rowsOfWindow = statements.prepare(
      'SELECT class, pulses, duration, flags, bin FROM increment WHERE sensor = ? AND to_ms > ? AND to_ms <= ?',
    );
    this.#putSpread = statements.prepare(
      'INSERT OR REPLACE INTO spread VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)',
    );
    this.#removeSpreads = statements.prepare('DELETE FROM spread WHERE sensor = ? AND hour = ?');
    this.#bins = new BinWriter(names, statements);
  }

  /** The increments of the same outputs must be written before. `isTold`: the rows are wanted as they then stand. */
  write(out: Outputs, isTold: boolean): RollupRow[] {
    const rows: RollupRow[] = [];
    for (const add of out.rollups) {
      const row = this.#add(add, isTold);
      if (row !== null) rows.push(row);
    }
    if (out.windowsRevised.length > 0) {
      const once = new Map(out.windowsRevised.map((window) => [`${window.sensor}/${window.start}`, window]));
      for (const { sensor, start } of once.values()) rows.push(this.#reviseWindow(sensor, start));
    }
    for (const { sensor, hour } of out.removedSpreads) this.#removeSpreads.run(this.names.id(sensor), hour);
    for (const spread of out.spreads) this.#writeSpread(spread);
    return rows;
  }

  #writeSpread({ sensor, hour, bin, pulses, ms, q, k }: Spread): void {
    this.#putSpread.run(this.names.id(sensor), hour, this.names.id(bin), pulses, ms, ...q, ...k);
  }

  #add(add: RollupAdd, isTold: boolean): RollupRow | null {
    const cells = this.#cells;
    cells[0] = this.names.id(add.sensor);
    cells[1] = add.start;
    for (let c = Class.rejected; c <= Class.background; c++) {
      cells[1 + c] = add.pulses[c]!;
      cells[8 + c] = add.ms[c]!;
    }
    cells[16] = add.uncertainMs;
    const { telling, silent } = this.#adds[add.period];
    this.#bins.add(add);
    if (!isTold) {
      silent.run(cells);
      return null;
    }
    const found = telling.get(cells) as number[];
    const { sensor, period, start } = add;
    const row = { sensor, period, start, revision: found[0]!, ...toSums(found, 1), bins: [] };
    this.#bins.tell(row);
    return row;
  }

  #reviseWindow(sensor: string, start: number): RollupRow {
    const id = this.names.id(sensor);
    const [revision] = this.#revise.get(id, start) as [number];
    const sums = emptySums();
    const bins: BinSum[] = [];
    const rows = this.#rowsOfWindow.all(id, start, start + WINDOW_MS) as WindowCells[];
    for (const [cls, pulses, duration, flags, bin] of rows) {
      if (cls === Class.none || cls === Class.pending) continue;
      const ms = Math.max(0, duration);
      sums.pulses[cls]! += pulses;
      sums.ms[cls]! += ms;
      if ((flags & Flag.uncertain) !== 0) sums.uncertainMs += ms;
      if (bin !== null) addToBins(bins, this.names.text(bin), pulses, ms);
    }
    return { sensor, period: '10s', start, revision, ...sums, bins: sortBins(sums, bins) };
  }
}
