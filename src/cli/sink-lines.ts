/** How each sink does, in a line, for whoever watches the gateway or wires a sensor. */
import type { SinkRow as Forwarded } from '../api/forward-desk.js';
import type { SinkRow } from '../api/station-reader.js';

/** A new record that waits longer makes a sink late. Our choice, the design's bound for live data. */
const LATE_MS = 10_000;

export function toSinkLine(row: Forwarded): SinkRow {
  const isLate = row.liveLagMs > LATE_MS || row.backlog > 0;
  const state =
    row.state === 'failing'
      ? 'failing'
      : row.state === 'connecting' && row.lastSuccessAt === null
        ? 'idle'
        : isLate
          ? 'behind'
          : 'working';
  const waiting = row.waitingLive + row.backlog;
  const says = {
    failing: `it fails: ${row.lastError === '' ? 'no reason is known' : row.lastError}; ${waiting} records wait`,
    idle: 'nothing has been taken since the start',
    behind: `${waiting} records wait`,
    working: 'it takes what comes',
  }[state];
  return {
    ...{ sink: row.name, kind: row.kind, state, pending: waiting, says },
    ...{ lastDeliveredAt: row.lastSuccessAt, lastErrorAt: row.lastErrorAt, lastError: row.lastError },
  };
}
