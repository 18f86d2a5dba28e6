/** Reads readings with their increments, page by page. */
import { ALL_BIN } from '../core/bin-name.js';
import { Class, CLASS_NAMES, Flag, REASON_NAMES } from '../core/words.js';
import { FIRST, LAST } from './page.js';
import type { ReadConnection } from './read-connection.js';
import type { Cells } from './statements.js';

/** One reading and its increment, as it is exported: no surrogate ids. */
export interface IncrementRecord {
  sensor: string;
  from: number;
  to: number;
  device: string;
  boot: number | null;
  seq: number | null;
  count: number;
  pulses: number;
  ms: number;
  class: string;
  reason: string;
  quality: 'good' | 'uncertain';
  /** null: the reading carried none */
  temperatureC: number | null;
  /** condition bin; '' where it is not running */
  bin: string;
}

export interface IncrementQuery {
  /** null: all */
  readonly sensor: string | null;
  /** of `to`: `from` inclusive, `to` exclusive; null: unbounded */
  readonly from: number | null;
  readonly to: number | null;
}

const PAGE_ROWS = 2000;

/**
 * Sensor by sensor in alphabetical order, each in order of time, pages of at most 2,000. Within a page, rows that end
 * together are in order of (device, boot, seq). Anchors and torn readings are part of it, with class `none`.
 */
export function* readIncrements(reader: ReadConnection, query: IncrementQuery): Generator<IncrementRecord[]> {
  for (const { id, key } of reader.sensorIds(query.sensor)) {
    let place = [query.from ?? FIRST, FIRST, FIRST];
    for (;;) {
      const rows = reader.all(
        `SELECT i.to_ms, i.chain, i.seq, i.duration, i.count, i.pulses, i.class, i.reason, i.flags, c.device, c.boot,
           i.temperature, (SELECT text FROM name WHERE id = i.bin)
         FROM increment i JOIN chain c ON c.id = i.chain
         WHERE i.sensor = ? AND (i.to_ms, i.chain, i.seq) >= (?, ?, ?) AND i.to_ms < ?
         ORDER BY i.to_ms, i.chain, i.seq LIMIT ${PAGE_ROWS}`,
        id,
        ...place,
        query.to ?? LAST,
      );
      if (rows.length > 0) yield rows.map((cells) => toRecord(key, cells)).sort(compareRecords);
      if (rows.length < PAGE_ROWS) break;
      const [to, chain, seq] = rows[rows.length - 1] as [number, number, number];
      place = [to, chain, seq + 1];
    }
  }
}

function toRecord(sensor: string, cells: Cells): IncrementRecord {
  const [to, , seq, duration, count, pulses, cls, reason, flags] = cells as number[];
  const [temperature, bin] = cells.slice(11) as [number | null, string | null];
  return {
    sensor,
    from: to! - duration!,
    to: to!,
    device: cells[9] as string,
    boot: cells[10] as number | null,
    seq: seq === -1 ? null : seq!,
    count: count!,
    pulses: pulses!,
    ms: Math.max(0, duration!),
    class: CLASS_NAMES[cls!] ?? 'none',
    reason: REASON_NAMES[reason!] ?? '',
    quality: (flags! & Flag.uncertain) !== 0 ? 'uncertain' : 'good',
    temperatureC: temperature === null ? null : temperature / 10,
    bin: cls === Class.running ? (bin ?? ALL_BIN) : '',
  };
}

function compareRecords(a: IncrementRecord, b: IncrementRecord): number {
  return (
    a.to - b.to ||
    (a.device < b.device ? -1 : a.device > b.device ? 1 : 0) ||
    (a.boot ?? -1) - (b.boot ?? -1) ||
    (a.seq ?? -1) - (b.seq ?? -1)
  );
}
