/** How the columns of a table become the core's rows; the column lists and the functions that read them stand together. */
import type { DriveRow, Increment, Segment, Spread, Transient } from '../core/rows.js';
import type { Class, Reason } from '../core/words.js';
import type { NameTable } from './names.js';
import type { Cells } from './statements.js';

export const INCREMENT_COLUMNS =
  'to_ms, chain, seq, duration, count, up_ms, pulses, class, reason, flags, temperature, bin' as const;

/** `names` spells the bin. */
export function toIncrement(sensor: string, cells: Cells, names: Pick<NameTable, 'text'>): Increment {
  const [to, chain, seq, duration, count, upMs, pulses, cls, reason, flags, temperature] = cells as number[];
  const bin = cells[11] as number | null;
  return {
    sensor,
    to: to!,
    from: to! - duration!,
    chain: chain!,
    seq: seq === -1 ? null : seq!,
    count: count!,
    upMs: upMs ?? null,
    pulses: pulses!,
    class: cls as Class,
    reason: reason as Reason,
    flags: flags!,
    temperature: temperature ?? null,
    bin: bin === null ? '' : names.text(bin),
    stored: true,
  };
}

export const DRIVE_COLUMNS =
  'at, since, state, modulating, speed_rpm, load_pct, switching_khz, dc_link_v, received_at' as const;

export function toDrive(motor: string, cells: Cells): DriveRow {
  return {
    motor,
    at: cells[0] as number,
    since: cells[1] as number | null,
    state: cells[2] as DriveRow['state'],
    modulating: cells[3] === 1,
    speedRpm: cells[4] as number | null,
    loadPct: cells[5] as number | null,
    switchingKhz: cells[6] as number | null,
    dcLinkV: cells[7] as number | null,
    receivedAt: cells[8] as number,
  };
}

export const SEGMENT_COLUMNS =
  `sensor, chain, start_to, start_seq, first_count, last_to, last_seq, last_count, wraps, modulus, opened_by,
   unknown_reason, unknown_from, unknown_to, unknown_low, unknown_high` as const;

/** `sensor`: the name that the first column stands for. */
export function toSegment(sensor: string, cells: Cells): Segment {
  return {
    sensor,
    chain: cells[1] as number,
    startTo: cells[2] as number,
    startSeq: cells[3] as number,
    firstCount: cells[4] as number,
    lastTo: cells[5] as number,
    lastSeq: cells[6] as number,
    lastCount: cells[7] as number,
    wraps: cells[8] as number,
    modulus: cells[9] as number,
    openedBy: cells[10] as Segment['openedBy'],
    unknownReason: cells[11] as string,
    unknownFrom: cells[12] as number,
    unknownTo: cells[13] as number,
    unknownLow: cells[14] as number,
    unknownHigh: cells[15] as number | null,
  };
}

export const TRANSIENT_COLUMNS = 'from_ms, to_ms, edges, kind, counts' as const;

/** Counts in alphabetical order of the sensors. */
export function toTransient(motor: string, cells: Cells): Transient {
  const counts = JSON.parse(cells[4] as string) as Transient['counts'];
  counts.sort((a, b) => (a.sensor < b.sensor ? -1 : 1));
  return {
    motor,
    from: cells[0] as number,
    to: cells[1] as number,
    edges: cells[2] as number,
    kind: cells[3] as Transient['kind'],
    counts,
  };
}

/** Of `spread` joined to the names of its bins. */
export const SPREAD_COLUMNS = 'hour, text, pulses, ms, q0, q1, q2, q3, k0, k1, k2, k3' as const;

export function toSpread(sensor: string, cells: Cells): Spread {
  const [hour, , pulses, ms, q0, q1, q2, q3, k0, k1, k2, k3] = cells as number[];
  return {
    sensor,
    hour: hour!,
    bin: cells[1] as string,
    pulses: pulses!,
    ms: ms!,
    q: [q0!, q1!, q2!, q3!],
    k: [k0!, k1!, k2!, k3!],
  };
}
