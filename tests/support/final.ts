/**
 * The final state of a store as text, for comparing two runs to the byte: increments with their classes, rollups without
 * their revisions, transients. Rollups that hold nothing are left out; chain ids give way to device and boot.
 */
import type { BinSum, Sums } from '../../src/core/rows.js';
import { Class } from '../../src/core/words.js';
import type { MemoryStore } from './memory-store.js';

export interface Final {
  increments: string[];
  rollups: string[];
  transients: string[];
  segments: string[];
  /** of hours in which something ran */
  spreads: string[];
}

export function describeFinal(store: MemoryStore): Final {
  const increments: string[] = [];
  for (const sensor of [...store.increments.keys()].sort()) {
    const rows = store.sortedIncrements(sensor).map((row) => {
      const { device, boot } = store.chains.get(row.chain)!;
      return `${sensor} ${row.to} ${device} ${boot} ${row.seq} from=${row.from} count=${row.count} pulses=${row.pulses} class=${row.class} reason=${row.reason} flags=${row.flags} bin=${row.bin}`;
    });
    increments.push(...rows.sort());
  }
  const rollups = [...store.rollups.values()]
    .filter((r) => r.pulses.some((p) => p !== 0) || r.ms.some((m) => m !== 0))
    .map(describeRollup)
    .sort();
  const transients = [...store.transients.values()]
    .map((t) => {
      const counts = [...t.counts]
        .sort((a, b) => a.sensor.localeCompare(b.sensor))
        .map((c) => `${c.sensor}:${c.pulses}:${c.ms}`);
      return `${t.motor} ${t.from} ${t.to} ${t.edges} ${t.kind} ${counts.join(' ')}`;
    })
    .sort();
  const segments = [...store.segments.values()]
    .map((s) => {
      const { device, boot } = store.chains.get(s.chain)!;
      return `${s.sensor} ${device} ${boot} ${s.startTo} ${s.startSeq} ${s.firstCount}..${s.lastCount}@${s.lastTo} wraps=${s.wraps} ${s.openedBy} ${s.unknownReason} ${s.unknownFrom} ${s.unknownTo} ${s.unknownLow} ${s.unknownHigh}`;
    })
    .sort();
  const spreads = [...store.spreads.values()]
    .filter(({ ms }) => ms > 0)
    .map((s) => `${s.sensor} ${s.hour} ${s.bin} ${s.pulses} ${s.ms} ${s.q.join()} ${s.k.join()}`)
    .sort();
  return { increments, rollups, transients, segments, spreads };
}

/** Bins in order of their names; those that hold nothing are left out. */
export function describeRollup(
  row: Sums & { sensor: string; period: string; start: number; bins: readonly BinSum[] },
): string {
  const bins = row.bins
    .filter((sum) => sum.pulses !== 0 || sum.ms !== 0)
    .map((sum) => `; ${sum.bin}: ${sum.pulses}/${sum.ms}`);
  const sums = `${row.pulses.join()} ${row.ms.join()} ${row.uncertainMs}`;
  return `${row.sensor} ${row.period} ${row.start} ${sums}${bins.sort().join('')}`;
}

/** The ledger: for each segment, last − first (unwrapped) against the increments between. Empty: it balances. */
export function findImbalances(store: MemoryStore): string[] {
  const faults: string[] = [];
  for (const segment of store.segments.values()) {
    const rows = store.sortedIncrements(segment.sensor).filter((row) => row.chain === segment.chain);
    const { boot } = store.chains.get(segment.chain)!;
    const bySeq = boot !== null && segment.startSeq >= 0;
    const place = (to: number, seq: number): [number, number] => (bySeq ? [seq, 0] : [to, seq]);
    const start = place(segment.startTo, segment.startSeq);
    const end = place(segment.lastTo, segment.lastSeq);
    const before = (a: [number, number], b: [number, number]): boolean =>
      a[0] < b[0] || (a[0] === b[0] && a[1] <= b[1]);
    let sum = 0;
    for (const row of rows) {
      const at = place(row.to, row.seq ?? -1);
      if (before(start, at) && before(at, end)) sum += row.pulses;
    }
    const expected =
      segment.lastCount -
      segment.firstCount +
      segment.wraps * (segment.modulus > 2 ** 40 ? 0 : segment.modulus);
    if (sum !== expected) {
      faults.push(
        `${segment.sensor} chain ${segment.chain} from ${segment.startTo}: counted ${expected}, increments hold ${sum}`,
      );
    }
  }
  return faults;
}

/**
 * Rollups whose condition bins do not add up to what ran. With axes all of it is in a bin of its own; without, none is.
 * Empty: they all do.
 */
export function findUnbinned(store: MemoryStore, hasAxes: boolean): string[] {
  const faults: string[] = [];
  for (const row of store.rollups.values()) {
    const pulses = row.bins.reduce((sum, bin) => sum + bin.pulses, 0);
    const ms = row.bins.reduce((sum, bin) => sum + bin.ms, 0);
    const expected = hasAxes ? [row.pulses[Class.running], row.ms[Class.running]] : [0, 0];
    if (pulses !== expected[0] || ms !== expected[1]) faults.push(describeRollup(row));
  }
  return faults;
}
