/** The devices that sit in one sensor's place over the run, and when each of them has power. */
import { drawTimes, type Interval } from './happenings.js';
import type { Fault, SegmentTruth } from './messages.js';
import { openStream, type Random } from './random.js';
import type { DeviceScenario } from './scenario.js';

export interface DeviceLives {
  /** ascending, apart */
  readonly segments: SegmentTruth[];
  readonly powered: readonly Interval[];
  readonly faults: Fault[];
  /** seq of the first reading of the first segment; later segments begin at 0 */
  readonly firstSeq: number;
}

const DAY_MS = 86_400_000;
/** A random first count is close below the modulus this often, so that wraps happen within hours. */
const NEAR_WRAP_SHARE = 0.3;
const NEAR_WRAP_PULSES = 3_000;

/** `key`: `<motor>/<position>`; serial numbers are made of it. */
export function liveDevices(device: DeviceScenario, key: string, seed: number, span: Interval): DeviceLives {
  const random = openStream(seed, key, 'lives');
  const cuts = [
    ...drawTimes(random, device.reboots, span).map((at) => ({ at, isSwap: false })),
    ...drawTimes(random, device.swaps, span).map((at) => ({ at, isSwap: true })),
  ].sort((a, b) => a.at - b.at);
  const serial = (n: number): string => `SN-${key.replace('/', '-')}-${n}`;
  const segments: SegmentTruth[] = [];
  const faults: Fault[] = [];
  let number = 1;
  let current = firstSegment(device, serial(number), random, span);
  for (const { at, isSwap } of cuts) {
    if (at <= Math.max(current.poweredFrom, span.from)) continue;
    const offSeconds = isSwap ? device.swaps.offSeconds : device.reboots.offSeconds;
    const on = at + Math.max(1, Math.round(offSeconds * 1_000 * random.between(0.7, 1.3)));
    segments.push({ ...current, poweredTo: at });
    const skips = !isSwap && random.chance(device.reboots.skipShare);
    if (isSwap) number += 1;
    const boot = isSwap ? 1 : current.boot + (skips ? 2 : 1);
    faults.push({
      kind: isSwap ? 'swap' : skips ? 'skipped-boot' : 'reboot',
      at,
      to: on,
      detail: `${serial(number)} boot ${boot}`,
    });
    current = openSegment(device, serial(number), boot, on, span.to, 0, true);
  }
  segments.push(current);
  return {
    segments: segments.filter(({ poweredFrom }) => poweredFrom < span.to),
    powered: segments.map(({ poweredFrom, poweredTo }) => ({ from: poweredFrom, to: poweredTo })),
    faults,
    firstSeq: random.integer(0, 50_000),
  };
}

function firstSegment(device: DeviceScenario, serial: string, random: Random, span: Interval): SegmentTruth {
  const poweredFrom = span.from - Math.round(random.between(0.05, 20) * DAY_MS);
  const count =
    device.initialCount === 'random' ? drawCount(device.counterBits, random) : device.initialCount;
  return openSegment(device, serial, random.integer(1, 12), poweredFrom, span.to, count, false);
}

function drawCount(bits: 16 | 32 | 53, random: Random): number {
  if (bits === 53) return random.integer(0, 1_000_000);
  const modulus = 2 ** bits;
  return random.chance(NEAR_WRAP_SHARE)
    ? modulus - random.integer(1, NEAR_WRAP_PULSES)
    : Math.floor(random.unit() * modulus);
}

function openSegment(
  device: DeviceScenario,
  serial: string,
  boot: number,
  poweredFrom: number,
  poweredTo: number,
  initialCount: number,
  startsAtZero: boolean,
): SegmentTruth {
  const { counterBits } = device;
  const reached = { firstDelivered: null, lastDelivered: null, sent: 0, delivered: 0 };
  return {
    device: serial,
    boot,
    poweredFrom,
    poweredTo,
    initialCount,
    startsAtZero,
    counterBits,
    ...reached,
  };
}
