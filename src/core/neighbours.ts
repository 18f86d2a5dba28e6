/**
 * Late readings whose place is no longer in memory: their neighbours are asked from the store, and they are put in when
 * those come.
 */
import { reachesOpenHour } from './checkpoint.js';
import { compareRows, CONTEXT_ROWS, insertRow, toRow, trimChain } from './order.js';
import type { Increment } from './rows.js';
import { askFor, touch, type ChainState, type CoreState, type Run, type SensorState } from './state.js';

/** Asks for the neighbours of all late readings of a chain, and puts them in when they come. */
export function askForNeighbours(state: CoreState, sensor: SensorState, chain: ChainState): void {
  const facts = chain.waiting;
  if (facts.length === 0) return;
  chain.waiting = [];
  const rows = facts.map((fact) => toRow(state, sensor, chain, fact));
  const keys = rows.map((row) => (chain.bySeq ? row.seq! : row.to));
  const question = {
    sensor: sensor.key,
    chain: chain.id,
    bySeq: chain.bySeq,
    least: Math.min(...keys),
    most: Math.max(...keys),
  };
  askFor(state, { neighbours: question }, (answer) => {
    joinRows(chain, answer.neighbours, question.least, question.most);
    const run: Run = joinsMemory(chain, answer.neighbours)
      ? chain
      : loadedRun(chain, answer.neighbours, question.least, question.most);
    rows.sort((a, b) => compareRows(chain.bySeq, a, b));
    for (const row of rows) insertRow(state, sensor, chain, run, row);
    trimChain(chain);
    sensor.isLong = !reachesOpenHour(sensor);
    touch(state, sensor);
  });
}

function keyOf(chain: ChainState, row: Increment): number {
  return chain.bySeq ? row.seq! : row.to;
}

function joinsMemory(chain: ChainState, loaded: readonly Increment[]): boolean {
  const first = chain.rows[0];
  return first === undefined
    ? loaded.length === 0
    : loaded.length === 0 || compareRows(chain.bySeq, loaded[loaded.length - 1]!, first) >= 0;
}

/** Puts rows from the store in front of those in memory, when they reach them; a row in memory stands for its copy. */
function joinRows(chain: ChainState, loaded: readonly Increment[], least: number, most: number): void {
  if (chain.rows.length === 0 && countAfter(chain, loaded, most) < CONTEXT_ROWS) {
    chain.rows = [...loaded];
  } else if (joinsMemory(chain, loaded)) {
    const first = chain.rows[0]!;
    chain.rows = [...loaded.filter((row) => compareRows(chain.bySeq, row, first) < 0), ...chain.rows];
  } else return;
  chain.startsChain = loaded.filter((row) => keyOf(chain, row) < least).length < CONTEXT_ROWS;
}

function countAfter(chain: ChainState, loaded: readonly Increment[], most: number): number {
  return loaded.filter((row) => keyOf(chain, row) > most).length;
}

function loadedRun(chain: ChainState, loaded: readonly Increment[], least: number, most: number): Run {
  return {
    rows: [...loaded],
    startsChain: loaded.filter((row) => keyOf(chain, row) < least).length < CONTEXT_ROWS,
    endsChain: countAfter(chain, loaded, most) < CONTEXT_ROWS,
  };
}
