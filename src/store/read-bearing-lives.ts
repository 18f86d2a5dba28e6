/** Reads the lives of the bearings of one end, with what was counted in each, from hours, and from minutes at their edges. */
import type { Finding, MaintenanceAction } from '../core/maintenance-rows.js';
import { Class, PERIOD_MS } from '../core/words.js';
import { splitLives, type Life } from './bearing-lives.js';
import { FIRST, LAST, type Page } from './page.js';
import { readActions, readFindings } from './read-maintenance.js';
import type { ReadConnection } from './read-connection.js';

const PAGE_ROWS = 500;
const HOUR_MS = PERIOD_MS['1h'];
const MINUTE_MS = PERIOD_MS['1m'];

export interface CountedLife extends Life {
  /** its replacement, or the first data; null: there is neither */
  readonly fittedAt: number | null;
  /** from the first to the last rollup that is summed; null: there is none */
  readonly counted: { readonly from: number; readonly to: number } | null;
  readonly runningMs: number;
  readonly runningPulses: number;
  readonly transientPulses: number;
}

/** Newest first, one at least. `position` need not have a sensor: then nothing is counted. */
export function readBearingLives(
  reader: ReadConnection,
  { motor, position }: { readonly motor: string; readonly position: string },
): CountedLife[] {
  const query = { motor, from: null, to: null, limit: PAGE_ROWS };
  const actions = readAll<MaintenanceAction>((cursor) => readActions(reader, { ...query, cursor }));
  const findings = readAll<Finding>((cursor) => readFindings(reader, { ...query, cursor }));
  const id =
    (reader.value('SELECT id FROM name WHERE text = ?', `${motor}/${position}`) as number | null) ?? -1;
  const oldest = 'SELECT min(start) FROM rollup_1h WHERE sensor = ?';
  const firstData =
    (reader.value(oldest, id) as number | null) ??
    (reader.value(oldest.replace('1h', '1m'), id) as number | null);
  return splitLives(position, actions, findings).map((life) => ({
    ...life,
    fittedAt: life.replacement === null ? firstData : life.replacement.at,
    ...sumLife(reader, id, life.replacement?.at ?? null, life.removedAt),
  }));
}

function readAll<T>(ask: (cursor: string | null) => Page<T>): T[] {
  const items: T[] = [];
  for (let page = ask(null); ; page = ask(page.next)) {
    items.push(...page.items);
    if (page.next === null) return items;
  }
}

type Sums = Pick<CountedLife, 'counted' | 'runningMs' | 'runningPulses' | 'transientPulses'>;

/**
 * Whole hours inside, whole minutes before the first and behind the last of them. The minute in which a bearing was
 * replaced belongs to neither. Hours come when they are over: what is newer than the newest hour is summed from minutes.
 */
function sumLife(reader: ReadConnection, id: number, from: number | null, to: number | null): Sums {
  const newest = reader.value('SELECT max(start) FROM rollup_1h WHERE sensor = ?', id) as number | null;
  const first = from === null ? FIRST : Math.ceil(from / MINUTE_MS) * MINUTE_MS;
  const end = to === null ? LAST : Math.floor(to / MINUTE_MS) * MINUTE_MS;
  const hoursFrom = from === null ? FIRST : Math.ceil(from / HOUR_MS) * HOUR_MS;
  const hoursEnd = Math.min(
    to === null ? LAST : Math.floor(to / HOUR_MS) * HOUR_MS,
    newest === null ? FIRST : newest + HOUR_MS,
  );
  const parts =
    hoursFrom < hoursEnd
      ? [
          sumRollups(reader, '1m', id, first, hoursFrom),
          sumRollups(reader, '1h', id, hoursFrom, hoursEnd),
          sumRollups(reader, '1m', id, hoursEnd, end),
        ]
      : [sumRollups(reader, '1m', id, first, end)];
  const filled = parts.flatMap(({ counted }) => counted ?? []);
  return {
    counted: filled.length === 0 ? null : { from: filled[0]!.from, to: filled[filled.length - 1]!.to },
    runningMs: parts.reduce((sum, part) => sum + part.runningMs, 0),
    runningPulses: parts.reduce((sum, part) => sum + part.runningPulses, 0),
    transientPulses: parts.reduce((sum, part) => sum + part.transientPulses, 0),
  };
}

/** Rollups with `from <= start < to`. */
function sumRollups(reader: ReadConnection, period: '1m' | '1h', id: number, from: number, to: number): Sums {
  const [row] = reader.all(
    `SELECT min(start), max(start), sum(m${Class.running}), sum(p${Class.running}), sum(p${Class.transient})
     FROM rollup_${period} WHERE sensor = ? AND start >= ? AND start < ?`,
    ...[id, from, to],
  ) as (number | null)[][];
  const [first, last, runningMs, runningPulses, transientPulses] = row!;
  return {
    counted: first === null ? null : { from: first!, to: last! + PERIOD_MS[period] },
    runningMs: runningMs ?? 0,
    runningPulses: runningPulses ?? 0,
    transientPulses: transientPulses ?? 0,
  };
}
