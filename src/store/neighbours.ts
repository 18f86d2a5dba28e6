/** Finds the readings of one counter at and around a place, in chain order. */
import type { Need } from '../core/needs.js';
import type { Increment } from '../core/rows.js';
import { firstSeqOf, partOf, type ChainParts, type PartCells } from './chain-parts.js';
import type { NameTable } from './names.js';
import { INCREMENT_COLUMNS, toIncrement } from './row-shapes.js';
import type { Cells, Statements } from './statements.js';

type Ask = NonNullable<Need['neighbours']>;

/** Rows wanted on either side of the place. */
const MARGIN_ROWS = 4;

export function findNeighbours(
  statements: Statements,
  parts: ChainParts,
  names: NameTable,
  ask: Ask,
): Increment[] {
  const sensor = names.find(ask.sensor);
  const found = ask.bySeq ? findBySeq(statements, parts, sensor, ask) : findByTime(statements, sensor, ask);
  return found.map((cells) => toIncrement(ask.sensor, cells, names));
}

function findByTime(statements: Statements, sensor: number, { chain, least, most }: Ask): Cells[] {
  const select = `SELECT ${INCREMENT_COLUMNS} FROM increment WHERE sensor = ? AND chain = ?`;
  const before = statements.all(
    `${select} AND to_ms < ? ORDER BY to_ms DESC, seq DESC LIMIT ${MARGIN_ROWS}`,
    sensor,
    chain,
    least,
  );
  const inside = statements.all(
    `${select} AND to_ms BETWEEN ? AND ? ORDER BY to_ms, seq`,
    sensor,
    chain,
    least,
    most,
  );
  const after = statements.all(
    `${select} AND to_ms > ? ORDER BY to_ms, seq LIMIT ${MARGIN_ROWS}`,
    sensor,
    chain,
    most,
  );
  return [...before.reverse(), ...inside, ...after];
}

/** Rows of one part: within its bounds in time, `seq` from the first to the last wanted. */
const IN_PART = `SELECT ${INCREMENT_COLUMNS} FROM increment
  WHERE sensor = ? AND to_ms BETWEEN ? AND ? AND chain = ? AND seq BETWEEN ? AND ?`;

function findBySeq(statements: Statements, parts: ChainParts, sensor: number, ask: Ask): Cells[] {
  const { chain, least, most } = ask;
  const inside: Cells[] = [];
  for (const [part, leastTo, mostTo] of parts.between(chain, partOf(least), partOf(most))) {
    const first = Math.max(least, firstSeqOf(part));
    const last = Math.min(most, firstSeqOf(part + 1) - 1);
    for (const cells of statements.all(
      `${IN_PART} ORDER BY seq`,
      sensor,
      leastTo,
      mostTo,
      chain,
      first,
      last,
    ))
      inside.push(cells);
  }
  const before = findMargin(statements, parts, sensor, ask, 'before').reverse();
  return [...before, ...inside, ...findMargin(statements, parts, sensor, ask, 'after')];
}

/** The nearest rows on one side, nearest first, part by part. */
function findMargin(
  statements: Statements,
  parts: ChainParts,
  sensor: number,
  { chain, least, most }: Ask,
  side: 'before' | 'after',
): Cells[] {
  const order = side === 'before' ? 'ORDER BY seq DESC' : 'ORDER BY seq';
  const found: Cells[] = [];
  const start = partOf(side === 'before' ? least : most);
  let part: PartCells | undefined = parts.between(chain, start, start)[0] ?? parts.next(chain, start, side);
  while (part !== undefined && found.length < MARGIN_ROWS) {
    const [number, leastTo, mostTo] = part;
    const first = side === 'before' ? firstSeqOf(number) : Math.max(most + 1, firstSeqOf(number));
    const last = side === 'before' ? Math.min(least, firstSeqOf(number + 1)) - 1 : firstSeqOf(number + 1) - 1;
    const limit = MARGIN_ROWS - found.length;
    const sql = `${IN_PART} ${order} LIMIT ?`;
    found.push(...statements.all(sql, sensor, leastTo, mostTo, chain, first, last, limit));
    part = parts.next(chain, number, side);
  }
  return found;
}
