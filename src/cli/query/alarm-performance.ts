/** The performance of the alarm system, from the journal and the records of the alarms. */
import type { JournalLine } from '../../advice/alarm-histories.js';
import { reportPerformance, type AlarmFacts, type Performance } from '../../advice/alarm-performance.js';
import type { Span } from '../../advice/alarm-load.js';
import type { PerformanceWish } from '../../api/alarm-performance-reader.js';
import { readEngineRecord } from '../../engine/engine-record.js';
import type { AlarmRecord } from '../../core/alarm-rows.js';
import { readChanges, readKeptSince } from '../../store/read-journal.js';
import type { ReadStore } from '../../store/reader.js';
import { listSiteDays } from './site-days.js';

const PAGE_ROWS = 20_000;
/** Alarms of the gateway itself have no record in the store; all of them are of this priority. */
const GATEWAY_PRIORITY = 'high';

export function answerPerformance(reader: ReadStore, wish: PerformanceWish): Performance {
  const { from, to, positions, timeZone, respondMs } = wish;
  const lines = readLines(reader);
  const alarms = reader.alarms().map((record) => toFacts(record, respondMs[record.id] ?? null));
  const known = findKnown(reader, lines);
  const covered = { from: Math.max(from, known?.from ?? from), to: Math.min(to, known?.to ?? from) };
  const days = covered.from < covered.to ? listSiteDays(covered.from, covered.to, timeZone) : [];
  return reportPerformance(
    { from, to, positions, days },
    { lines, known, alarms: [...alarms, ...gatewayFacts(lines)] },
  );
}

/** In order of detection, which is that of writing but where a clock was set or an alarm was told before it could be stored. */
function readLines(reader: ReadStore): JournalLine[] {
  const lines: JournalLine[] = [];
  for (let after = 0; ;) {
    const rows = readChanges(reader, after, PAGE_ROWS);
    for (const { detectedAt, subject, what, annunciated } of rows)
      lines.push({ at: detectedAt, alarm: subject, what, annunciated });
    const last = rows[rows.length - 1];
    if (last === undefined || rows.length < PAGE_ROWS) break;
    after = last.id;
  }
  return lines.sort((a, b) => a.at - b.at);
}

/** From when on entries say what was announced, up to the last moment in which the gateway is known to have run. */
function findKnown(reader: ReadStore, lines: readonly JournalLine[]): Span | null {
  const from = readKeptSince(reader);
  if (from === null) return null;
  const rows = reader
    .all(`SELECT key, version, json FROM checkpoint WHERE key = 'engine'`)
    .map(([key, version, json]) => ({
      key: key as string,
      version: version as number,
      json: json as string,
    }));
  const to = Math.max(readEngineRecord(rows)?.tick ?? from, (lines.at(-1)?.at ?? from) + 1);
  return { from, to };
}

function toFacts(record: AlarmRecord, respondMs: number | null): AlarmFacts {
  const { id, priority, shelvedUntil, shelvedBy, shelvedWhy } = record;
  return {
    ...{ id, priority, respondMs },
    shelf: shelvedUntil === null ? null : { until: shelvedUntil, by: shelvedBy, why: shelvedWhy },
    outOfService: record.outOfService ? { by: record.outOfServiceBy, why: record.outOfServiceWhy } : null,
  };
}

function gatewayFacts(lines: readonly JournalLine[]): AlarmFacts[] {
  const ids = new Set(lines.map(({ alarm }) => alarm).filter((alarm) => alarm.startsWith('gateway.')));
  return [...ids].map((id) => ({
    ...{ id, priority: GATEWAY_PRIORITY, respondMs: null, shelf: null, outOfService: null },
  }));
}
