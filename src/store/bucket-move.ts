/**
 * The move of the oldest buckets' rows to where each sensor's rows lie together: sensor by sensor, and where one has very
 * many rows bucket by bucket, a piece with each commit. How far it has come is stored with every piece.
 */
import type { Bucket } from './buckets.js';
import type { Prepared, Statements } from './statements.js';

/** A sensor with more rows than this is moved bucket by bucket. */
const PIECE_ROWS = 2000;

interface Progress {
  /** rows before this time are moved */
  readonly until: number;
  /** sensors with smaller ids are done */
  sensor: number;
  /** of this sensor, rows before this time */
  movedTo: number;
}

const ROWS = 'FROM bucket CROSS JOIN fresh ON fresh.bucket = bucket.id';
const PIECE = 'WHERE bucket.from_to >= ? AND bucket.from_to < ? AND fresh.sensor = ?';

export class BucketMove {
  #progress: Progress | null = null;
  readonly #count: Prepared;
  readonly #move: Prepared;
  readonly #note: Prepared;
  readonly #next: Prepared;

  constructor(private readonly statements: Statements) {
    this.#count = statements.prepare(`SELECT count(*) ${ROWS} ${PIECE}`);
    this.#move = statements.prepare(
      `INSERT INTO settled SELECT sensor, to_ms, chain, seq, duration, count, up_ms, pulses, class, reason, flags
       ${ROWS} ${PIECE}`,
    );
    this.#note = statements.prepare('UPDATE settling SET sensor = ?, moved_to = ?');
    this.#next = statements.prepare(
      `SELECT coalesce((SELECT id FROM name WHERE id > ? AND instr(text, '/') > 0 ORDER BY id LIMIT 1), 0)`,
    );
  }

  get isOn(): boolean {
    return this.#progress !== null;
  }

  /** All sensors have had their turn: `end` must follow. */
  get isOver(): boolean {
    return this.#progress !== null && this.#progress.sensor === Infinity;
  }

  reload(): void {
    const row = this.statements.db.prepare('SELECT until, sensor, moved_to FROM settling').raw().get();
    const [until, sensor, movedTo] = (row ?? []) as number[];
    this.#progress = row === undefined ? null : { until: until!, sensor: sensor!, movedTo: movedTo! };
  }

  /** A sensor's rows before this time have been moved by the move that is going on; −∞: none has. */
  movedUntil(sensor: number): number {
    const progress = this.#progress;
    if (progress === null || sensor > progress.sensor) return -Infinity;
    return sensor < progress.sensor ? progress.until : progress.movedTo;
  }

  begin(until: number): void {
    this.statements.prepare('INSERT INTO settling (until, sensor, moved_to) VALUES (?, 0, 0)').run(until);
    this.#progress = { until, sensor: 0, movedTo: 0 };
  }

  /** Moves one piece; how many rows. `buckets`: all there are. Throws where no move is on. */
  moveNext(buckets: readonly Bucket[]): number {
    const progress = this.#progress!;
    const { until, sensor, movedTo } = progress;
    const [left] = this.#count.get(movedTo, until, sensor) as [number];
    if (left === 0) {
      const [next] = this.#next.get(sensor) as [number];
      progress.sensor = next === 0 ? Infinity : next;
      progress.movedTo = 0;
      if (next !== 0) this.#note.run(next, 0);
      return 0;
    }
    const following = left <= PIECE_ROWS ? undefined : buckets.find(({ from }) => from > movedTo);
    const end = Math.min(until, following?.from ?? until);
    const { changes } = this.#move.run(movedTo, end, sensor);
    this.#note.run(sensor, end);
    progress.movedTo = end;
    return changes;
  }

  /** Takes the buckets out of sight; the time before which they began. */
  end(): number {
    const { until } = this.#progress!;
    this.statements.prepare('DELETE FROM bucket WHERE from_to < ?').run(until);
    this.statements.prepare('DELETE FROM settling').run();
    this.#progress = null;
    return until;
  }
}
