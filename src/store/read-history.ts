/**
 * Reads the stored past for a rehearsal, a stretch at a time: minutes and hours of a sensor with what ran in each condition
 * bin. Only the columns that alarms look at.
 */
import { ALL_BIN, MIXED_BIN } from '../core/bin-name.js';
import { joinBins } from '../core/bin-sums.js';
import type { PastHour, PastMinute, PastWindow } from '../core/history.js';
import type { MaintenanceAction } from '../core/maintenance-rows.js';
import type { BinSum, Spread } from '../core/rows.js';
import { Class, PERIOD_MS } from '../core/words.js';
import { ACTION_COLUMNS, toAction } from './maintenance-rows.js';
import { FIRST, LAST } from './page.js';
import { readRollups } from './read-rollups.js';
import type { ReadStore } from './reader.js';
import { BIN_TABLES, emptySums } from './rollup-row.js';
import { SPREAD_COLUMNS, toSpread } from './row-shapes.js';
import type { Cell, Cells } from './statements.js';

const MINUTE_MS = PERIOD_MS['1m'];
const HOUR_MS = PERIOD_MS['1h'];
const WINDOWS_OF_HOUR = 360;

/** What is stored of a sensor; null: nothing of that kind. */
export interface HistoryReach {
  /** start of the oldest hour and of the oldest minute */
  readonly hoursFrom: number | null;
  readonly minutesFrom: number | null;
  /** end of the newest minute */
  readonly to: number | null;
}

export class HistoryReader {
  readonly #ids = new Map<string, number>();

  constructor(private readonly reader: ReadStore) {}

  /** −1: nothing was ever stored under the name. */
  #idOf(name: string): number {
    let id = this.#ids.get(name);
    if (id === undefined) {
      id = (this.reader.value('SELECT id FROM name WHERE text = ?', name) as number | null) ?? -1;
      this.#ids.set(name, id);
    }
    return id;
  }

  reach(sensor: string): HistoryReach {
    const id = this.#idOf(sensor);
    const edge = (sql: string): number | null => this.reader.value(sql, id) as number | null;
    const hours = [
      edge('SELECT min(start) FROM rollup_1h WHERE sensor = ?'),
      edge('SELECT min(hour) FROM spread WHERE sensor = ?'),
    ].filter((start) => start !== null);
    const newest = edge('SELECT max(start) FROM rollup_1m WHERE sensor = ?');
    return {
      hoursFrom: hours.length === 0 ? null : Math.min(...hours),
      minutesFrom: edge('SELECT min(start) FROM rollup_1m WHERE sensor = ?'),
      to: newest === null ? null : newest + MINUTE_MS,
    };
  }

  /** Minutes with running exposure and `from <= start < to`, in order. `bin`: in which it ran before. */
  minutes(sensor: string, from: number, to: number, bin: string): PastMinute[] {
    const id = this.#idOf(sensor);
    const rows = this.reader.all(
      'SELECT start, p6, m6 FROM rollup_1m WHERE sensor = ? AND start >= ? AND start < ? AND m6 > 0 ORDER BY start',
      ...[id, from, to],
    ) as number[][];
    const bins = this.#binsOf(id, from, to, BIN_TABLES['1m']);
    let before = bin;
    return rows.map(([start, pulses, ms]) => {
      const own = bins.get(start!) ?? [];
      before = this.#lastBin(id, start!, own, before);
      return { start: start!, pulses: pulses!, ms: ms!, bins: own, lastBin: before };
    });
  }

  /** By start; `all` left out. */
  #binsOf(id: number, from: number, to: number, table: string): Map<number, BinSum[]> {
    const rows = this.reader.all(
      `SELECT start, text, pulses, ms FROM ${table} JOIN name ON name.id = bin
       WHERE sensor = ? AND start >= ? AND start < ? AND (pulses <> 0 OR ms <> 0) ORDER BY start, text`,
      ...[id, from, to],
    ) as [number, string, number, number][];
    const found = new Map<number, BinSum[]>();
    for (const [start, bin, pulses, ms] of rows) {
      if (bin === ALL_BIN) continue;
      const list = found.get(start);
      if (list === undefined) found.set(start, [{ bin, pulses, ms }]);
      else list.push({ bin, pulses, ms });
    }
    return found;
  }

  /**
   * In which bin a minute ran last. Of two, the increments tell as long as they are kept; after that it is taken to have changed
   * once: into the one that it did not run in before.
   */
  #lastBin(id: number, start: number, bins: readonly BinSum[], before: string): string {
    const ran = bins.filter(({ bin, ms }) => bin !== MIXED_BIN && ms > 0).map(({ bin }) => bin);
    if (ran.length === 0) return before;
    if (ran.length === 1) return ran[0]!;
    return this.#lastBinOfIncrements(id, start) ?? ran.find((bin) => bin !== before)!;
  }

  /** null: they are not kept, or every window was mixed. */
  #lastBinOfIncrements(id: number, start: number): string | null {
    const rows = this.reader.all(
      `SELECT to_ms, text FROM increment JOIN name ON name.id = bin
       WHERE sensor = ? AND to_ms > ? AND to_ms <= ? AND class = ${Class.running} ORDER BY to_ms`,
      ...[id, start, start + MINUTE_MS],
    ) as [number, string][];
    const windows = new Map<number, string>();
    for (const [to, bin] of rows) {
      const window = Math.floor((to - 1) / PERIOD_MS['10s']);
      windows.set(window, joinBins(windows.get(window) ?? bin, bin));
    }
    return [...windows.values()].filter((bin) => bin !== MIXED_BIN).at(-1) ?? null;
  }

  /** Hours with running or background exposure and `from <= start < to`, by their start. */
  hours(sensor: string, from: number, to: number): Map<number, PastHour> {
    const id = this.#idOf(sensor);
    const found = new Map<number, PastHour & { spreads: Spread[] }>();
    const rows = this.reader.all(
      'SELECT start, p7, m7, p6, m6 FROM rollup_1h WHERE sensor = ? AND start >= ? AND start < ? AND (m6 > 0 OR m7 > 0)',
      ...[id, from, to],
    ) as number[][];
    const bins = this.#binsOf(id, from, to, BIN_TABLES['1h']);
    for (const [start, pulses, background, running, runningMs] of rows) {
      const sums = emptySums();
      sums.pulses[Class.background] = pulses!;
      sums.ms[Class.background] = background!;
      sums.pulses[Class.running] = running!;
      sums.ms[Class.running] = runningMs!;
      found.set(start!, { start: start!, sums, bins: bins.get(start!) ?? [], spreads: [] });
    }
    const spreads = this.reader.all(
      `SELECT ${SPREAD_COLUMNS} FROM spread JOIN name ON name.id = bin
       WHERE sensor = ? AND hour >= ? AND hour < ? ORDER BY hour, text`,
      ...[id, from, to],
    );
    for (const cells of spreads) {
      const spread = toSpread(sensor, cells);
      found.get(spread.hour)?.spreads.push(spread);
    }
    return found;
  }

  /** Base windows of an hour with running exposure, as far as its increments are kept. */
  windows(sensor: string, hour: number): PastWindow[] {
    const range = { from: hour, to: hour + HOUR_MS, limit: WINDOWS_OF_HOUR, cursor: null };
    return readRollups(this.reader, { ...range, sensor, period: '10s' }).items.map((row) => ({
      start: row.start,
      pulses: row.pulses[Class.running]!,
      ms: row.ms[Class.running]!,
      common: row.pulses[Class.common]! > 0 || row.ms[Class.common]! > 0,
      bin: row.bins.length > 1 ? MIXED_BIN : (row.bins[0]?.bin ?? ''),
    }));
  }

  /** Start of every minute with `from <= start < to` that came, or was changed, after it had closed; in order, each once. */
  revisedMinutes(sensor: string, from: number, to: number): number[] {
    const id = this.#idOf(sensor);
    const rows = this.reader.all(
      `SELECT start FROM rollup_1m WHERE sensor = ? AND start >= ? AND start < ? AND revision > 0
       UNION SELECT start / ${MINUTE_MS} * ${MINUTE_MS} FROM window_revision WHERE sensor = ? AND start >= ? AND start < ?
       ORDER BY 1`,
      ...[id, from, to, id, from, to],
    ) as [number][];
    return rows.map(([start]) => start);
  }

  /** All of the site, withdrawn ones too, in the order in which they were entered. */
  actions(): MaintenanceAction[] {
    const own = ACTION_COLUMNS.replace(/^id/, 'maintenance_action.id');
    return this.reader
      .all(
        `SELECT ${own}, name.text FROM maintenance_action JOIN name ON name.id = motor
         ORDER BY entered_at, maintenance_action.id`,
      )
      .map((cells) => toAction(cells[cells.length - 1] as string, cells.slice(0, -1)));
  }

  /** Entries about alarms, and what else names a configuration, in the order in which they were written, without their evidence. Null: unbounded. */
  *journal(from: number | null, to: number | null): Generator<AlarmEntry[]> {
    for (let after: Cell = 0; ;) {
      const rows: Cells[] = this.reader.all(
        `SELECT id, at, detected_at, kind, subject, before, after, who, what, configuration, evidence IS NOT NULL FROM journal
         WHERE id > ? AND at >= ? AND at < ? AND kind <> 'gateway' ORDER BY id LIMIT ${PAGE_ENTRIES}`,
        ...[after, from ?? FIRST, to ?? LAST],
      );
      if (rows.length > 0) yield rows.map(toEntry);
      if (rows.length < PAGE_ENTRIES) return;
      after = rows[rows.length - 1]![0]!;
    }
  }
}

const PAGE_ENTRIES = 4000;

/** An entry of the journal about an alarm. */
export interface AlarmEntry {
  readonly at: number;
  readonly detectedAt: number;
  readonly kind: string;
  readonly subject: string;
  readonly from: string;
  readonly to: string;
  readonly who: string;
  /** '' in entries of older programs */
  readonly what: string;
  /** revision of the configuration in force; '' in entries of older programs */
  readonly configuration: string;
  readonly hasEvidence: boolean;
}

function toEntry(cells: Cells): AlarmEntry {
  const [, at, detectedAt] = cells as number[];
  const [, , , kind, subject, from, to, who, what, configuration] = cells as string[];
  return {
    at: at!,
    detectedAt: detectedAt!,
    kind: kind!,
    subject: subject!,
    from: from!,
    to: to!,
    who: who!,
    what: what!,
    configuration: configuration!,
    hasEvidence: cells[10] === 1,
  };
}
