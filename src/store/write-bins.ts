/**
 * Adds the running sums of each condition bin beside the rollup they belong to. Of 1 h the bin `all` is written too, so that
 * one table answers every question about like conditions, and its days are summed beside it; of 1 min and 10 min it is what the others leave.
 */
import { ALL_BIN } from '../core/bin-name.js';
import type { BinSum, RollupAdd } from '../core/rows.js';
import { Class } from '../core/words.js';
import type { NameTable } from './names.js';
import { BIN_DAYS, BIN_TABLES, DAY_MS, remainderOf, sortBins, type RollupRow } from './rollup-row.js';
import type { Prepared, Statements } from './statements.js';

type StoredPeriod = RollupAdd['period'];

interface Table {
  readonly add: Prepared;
  readonly read: Prepared;
}

function prepareAdd(statements: Statements, name: string): Prepared {
  return statements.prepare(
    `INSERT INTO ${name} VALUES (?, ?, ?, ?, ?)
     ON CONFLICT DO UPDATE SET pulses = pulses + excluded.pulses, ms = ms + excluded.ms`,
  );
}

function prepareTable(statements: Statements, name: string): Table {
  return {
    add: prepareAdd(statements, name),
    read: statements.prepare(`SELECT bin, pulses, ms FROM ${name} WHERE sensor = ? AND start = ?`),
  };
}

export class BinWriter {
  readonly #tables: Record<StoredPeriod, Table>;
  readonly #addToDay: Prepared;
  /** whether any bin but `all` was ever written: until then a rollup need not be looked up for them; null: not looked yet */
  #isUsed: boolean | null = null;

  constructor(
    private readonly names: NameTable,
    private readonly statements: Statements,
  ) {
    this.#addToDay = prepareAdd(statements, BIN_DAYS);
    this.#tables = {
      '1m': prepareTable(statements, BIN_TABLES['1m']),
      '10m': prepareTable(statements, BIN_TABLES['10m']),
      '1h': prepareTable(statements, BIN_TABLES['1h']),
    };
  }

  add({ bins, period, start, pulses, ms, sensor: key }: RollupAdd): void {
    if (bins.length > 0) this.#isUsed = true;
    else if (period !== '1h') return;
    const sensor = this.names.id(key);
    const table = this.#tables[period];
    if (period !== '1h') {
      for (const sum of bins) table.add.run(sensor, start, this.names.id(sum.bin), sum.pulses, sum.ms);
      return;
    }
    const rest = { bin: ALL_BIN, ...remainderOf(pulses[Class.running]!, ms[Class.running]!, bins) };
    for (const sum of rest.pulses !== 0 || rest.ms !== 0 ? [...bins, rest] : bins) {
      const bin = this.names.id(sum.bin);
      table.add.run(sensor, start, bin, sum.pulses, sum.ms);
      this.#addToDay.run(sensor, start - (start % DAY_MS), bin, sum.pulses, sum.ms);
    }
  }

  /** Sets the bins of a stored rollup as they now stand. */
  tell(row: RollupRow): void {
    if (row.period === '10s') return;
    this.#isUsed ??= this.statements.value(`SELECT 1 FROM ${BIN_TABLES['10m']} LIMIT 1`) !== null;
    if (!this.#isUsed) return;
    row.bins = this.#read(this.#tables[row.period], this.names.id(row.sensor), row.start, row);
  }

  #read(table: Table, sensor: number, start: number, row: RollupRow): BinSum[] {
    const stored = table.read.all(sensor, start) as [number, number, number][];
    const bins = stored.map(([bin, pulses, ms]) => ({ bin: this.names.text(bin), pulses, ms }));
    return sortBins(row, bins);
  }
}
