/** What is known of one sensor when its chain is traced, and the words that its links share. Times in ms; null: not known. */

export const LINK_NAMES = [
  'seen',
  'authorised',
  'understood',
  'plausible',
  'run-state',
  'classified',
  'stored',
  'forwarded',
] as const;
export type LinkName = (typeof LINK_NAMES)[number];

export const LINK_STATES = ['ok', 'fault', 'unknown'] as const;
export type LinkState = (typeof LINK_STATES)[number];

/** How one link stands. `at`: when it held last; `faultAt`, `fault`: when and why it did not last. null, '': not known. */
export interface LinkFinding {
  readonly state: LinkState;
  readonly at: number | null;
  readonly faultAt: number | null;
  readonly fault: string;
  readonly says: string;
  readonly todo: string;
}

export interface Link extends LinkFinding {
  readonly link: LinkName;
}

/** What is known of one sensor. null: nothing. */
export interface SensorTrace {
  readonly sensor: string;
  readonly now: number;
  readonly intervalMs: number;
  /** how long the gateway has been up */
  readonly upMs: number;
  /** where its readings are to be published */
  readonly topic: string;
  /** its last message that was let in since the gateway started */
  readonly heard: { readonly at: number; readonly client: string } | null;
  /** the last time that it, or a login of its own, was turned away */
  readonly denied: DenialTrace | null;
  /** whether a login may publish its readings; true where none are needed */
  readonly hasLogin: boolean;
  /** its last message that could not be used, for another reason */
  readonly refused: { readonly at: number; readonly client: string; readonly reason: string } | null;
  /** event time of the last reading in the store */
  readonly lastReadingAt: number | null;
  /** of the sensor, standing now */
  readonly alarms: readonly { readonly kind: string; readonly since: number | null; readonly says: string }[];
  /** alarms of sensor and motor that stand no more, and when they returned */
  readonly ended: readonly EndedAlarm[];
  readonly diagnostics: readonly {
    readonly kind: string;
    readonly count: number;
    readonly lastAt: number;
    readonly detail: string;
  }[];
  /** whether the clock of the device counts as wrong by now; null: nobody can tell */
  readonly isClockOff: boolean | null;
  readonly drive: DriveTrace;
  readonly classes: ClassTrace;
  /** why the gateway stores nothing; empty: it does */
  readonly notStoring: readonly string[];
  readonly sinks: readonly SinkTrace[];
}

export interface DenialTrace {
  readonly at: number;
  readonly count: number;
  readonly client: string;
  /** that was tried; '': a login failed */
  readonly topic: string;
  readonly rule: string;
  /** its login is that of other sensors too, or not known */
  readonly isShared: boolean;
}

export interface EndedAlarm {
  readonly kind: string;
  readonly at: number;
}

export interface DriveTrace {
  /** false: none is configured */
  readonly hasRunState: boolean;
  readonly hasLogin: boolean;
  readonly topic: string;
  readonly state: string | null;
  readonly modulating: boolean;
  /** of the last message */
  readonly at: number | null;
  /** from when on it is not known any more; null: it is known */
  readonly unknownFrom: number | null;
  readonly refused: { readonly at: number; readonly client: string; readonly reason: string } | null;
  readonly denied: DenialTrace | null;
  /** the last message whose time could not be used; null: none */
  readonly clockDoubt: { readonly at: number; readonly says: string } | null;
}

/** What became of the sensor's time lately. */
export interface ClassTrace {
  /** end of the newest increment that has its class */
  readonly to: number | null;
  /** ms by class, over about ten minutes */
  readonly ms: Readonly<Record<string, number>>;
  /** why the newest unattributed increment is; '': there is none */
  readonly reason: string;
  readonly reasonAt: number | null;
}

export interface SinkTrace {
  readonly sink: string;
  readonly isFailing: boolean;
  readonly lastDeliveredAt: number | null;
  /** when it last took nothing, and why */
  readonly lastErrorAt: number | null;
  readonly lastError: string;
  readonly says: string;
}

/** A link without a fault that is remembered. */
export const NO_FAULT = { faultAt: null, fault: '' } as const;

/** What an alarm that has returned tells of the past of a link. */
export function tellPast(
  ended: readonly EndedAlarm[],
  kind: string,
  fault: string,
): Pick<LinkFinding, 'faultAt' | 'fault'> {
  const last = ended.find((each) => each.kind === kind);
  return last === undefined ? NO_FAULT : { faultAt: last.at, fault };
}

/** Beyond three intervals and a little a reading is overdue: the design's longest usable increment. */
export function overdueAfterMs(intervalMs: number): number {
  return Math.round(3.15 * intervalMs) + 5_000;
}

/** The latest of the times that are known; null: none is. */
export function latest(...times: readonly (number | null | undefined)[]): number | null {
  let newest: number | null = null;
  for (const time of times)
    if (time !== null && time !== undefined && time > (newest ?? -Infinity)) newest = time;
  return newest;
}

export function tellClient(client: string): string {
  return client === '' ? 'a client without an id' : `the client "${client}"`;
}

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;

/** A span in the largest unit that leaves two digits or so. */
export function tellSpan(ms: number): string {
  if (ms < 2 * MINUTE_MS) return `${Math.round(ms / 1000)} s`;
  if (ms < 2 * HOUR_MS) return `${Math.round(ms / MINUTE_MS)} min`;
  if (ms < 48 * HOUR_MS) return `${Math.round(ms / HOUR_MS)} h`;
  return `${Math.round(ms / (24 * HOUR_MS))} days`;
}
