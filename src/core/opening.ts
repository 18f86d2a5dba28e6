/**
 * The first reading of a chain: what it says depends on the chain that came before it in time. A new boot of a known
 * device counts from zero at its power-up; anything else only anchors, and what lies before it is unknowable.
 * Source: our choice; the fields are those of the contract.
 */
import { plausiblePulses } from './counter.js';
import type { Increment, Segment } from './rows.js';
import type { ChainState, SensorState } from './state.js';
import { Flag } from './words.js';

/** How a segment came to be, and what lies unknowable before it. */
export type Opening = Pick<
  Segment,
  'openedBy' | 'unknownReason' | 'unknownFrom' | 'unknownTo' | 'unknownLow' | 'unknownHigh'
>;

/** What a row comes out as. */
export interface Derived {
  from: number;
  pulses: number;
  flags: number;
  opening: Opening | null;
}

function nothingUnknown(openedBy: Opening['openedBy']): Opening {
  return { openedBy, unknownReason: '', unknownFrom: 0, unknownTo: 0, unknownLow: 0, unknownHigh: 0 };
}

export function anchorAt(row: Increment, opening: Opening): Derived {
  return { from: row.to, pulses: 0, flags: Flag.anchor, opening };
}

/** Start of a chain in time, for ordering chains of one sensor; null when it has no segment yet. */
export function startOf(chain: ChainState): number | null {
  return chain.segments[0]?.startTo ?? null;
}

/** The chain that came before in time, of the same device or of any. */
function chainBefore(
  sensor: SensorState,
  chain: ChainState,
  row: Increment,
  device: string | null,
): ChainState | null {
  let found: ChainState | null = null;
  for (const other of sensor.chains) {
    const start = startOf(other);
    if (other === chain || start === null || (device !== null && other.device !== device)) continue;
    if (start > row.to || (start === row.to && other.id > chain.id)) continue;
    if (
      found === null ||
      start > startOf(found)! ||
      (start === startOf(found) && (other.boot ?? 0) > (found.boot ?? 0))
    )
      found = other;
  }
  return found;
}

function lastSegment(chain: ChainState): Segment {
  return chain.segments[chain.segments.length - 1]!;
}

/** The first reading of a new boot of a known device: it counts from zero at its power-up. */
function openBoot(sensor: SensorState, chain: ChainState, same: ChainState, row: Increment): Derived {
  const last = lastSegment(same);
  const { plan } = sensor;
  const powerUp =
    row.upMs === null ? last.lastTo : Math.max(row.to - row.upMs, Math.min(last.lastTo, row.to));
  const elapsed = row.upMs ?? Math.max(0, row.to - last.lastTo);
  // without a run time the power was off and on somewhere between the two readings
  const unknownTo = row.upMs === null ? Math.max(row.to, last.lastTo) : powerUp;
  const skipped = chain.boot !== null && same.boot !== null && chain.boot !== same.boot + 1;
  const opening: Opening = {
    openedBy: 'boot',
    unknownReason: skipped ? 'skipped-boot' : 'power-cut',
    unknownFrom: Math.min(last.lastTo, powerUp),
    unknownTo,
    unknownLow: 0,
    unknownHigh: plausiblePulses(plan, Math.max(0, unknownTo - last.lastTo)),
  };
  const wrapMs = plan.counterBits === 53 ? Infinity : (2 ** plan.counterBits / plan.maxRatePerS) * 1000;
  if (elapsed >= wrapMs) {
    return anchorAt(row, {
      ...opening,
      unknownReason: 'may-have-wrapped',
      unknownTo: row.to,
      unknownLow: row.count,
      unknownHigh: null,
    });
  }
  const rejected = elapsed > 0 && row.count > plausiblePulses(plan, elapsed) ? Flag.rejected : 0;
  return { from: powerUp, pulses: row.count, flags: Flag.fromZero | rejected, opening };
}

/** The first reading of a chain. */
export function openChain(sensor: SensorState, chain: ChainState, row: Increment): Derived {
  const before = chainBefore(sensor, chain, row, null);
  if (before === null) return anchorAt(row, nothingUnknown('first'));
  const same = chain.boot === null ? null : chainBefore(sensor, chain, row, chain.device);
  if (same !== null && same.boot !== null && same.boot !== chain.boot)
    return openBoot(sensor, chain, same, row);
  const last = lastSegment(before).lastTo;
  return anchorAt(row, {
    openedBy: before.device === chain.device ? 'restart' : 'device',
    unknownReason: before.device === chain.device ? 'restart' : 'device-swap',
    unknownFrom: Math.min(last, row.to),
    unknownTo: row.to,
    unknownLow: 0,
    unknownHigh: plausiblePulses(sensor.plan, Math.max(0, row.to - last)),
  });
}
