/**
 * The proof of the ledger sensor by sensor, each from one snapshot of the store: beside a writing gateway, segment and
 * increments must be of the same moment. One sensor at a time, so that no snapshot is held for long.
 */
import { proveLedger, type SensorLedger } from '../store/ledger.js';
import type { ReadStore } from '../store/reader.js';

export interface ProofQuery {
  /** null: all */
  readonly sensor: string | null;
  readonly from: number | null;
  readonly to: number | null;
}

/** In alphabetical order of the sensors. */
export function* proveSensors(reader: ReadStore, query: ProofQuery): Generator<SensorLedger> {
  for (const { key } of reader.sensorIds(query.sensor)) {
    yield* reader.db.transaction(() => proveLedger(reader, { ...query, sensor: key }))();
  }
}
