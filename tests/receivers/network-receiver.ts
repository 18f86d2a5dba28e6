/** What a real receiver of a network sink is to a test: it can be killed, reached through a proxy, and asked what its own tables hold. */

export const NETWORK_KINDS = ['mqtt', 'sparkplug', 'http', 'postgres'] as const;
export type NetworkKind = (typeof NETWORK_KINDS)[number];

/** A row at a receiver. `at`: when this revision was stored there, ms. */
export interface HeldRow {
  readonly stream: string;
  readonly key: string;
  readonly revision: number;
  readonly at: number;
}

/** Something that can be killed and started again. */
export interface Mortal {
  readonly name: string;
  /** kill -9 */
  kill(): Promise<void>;
  /** resolves when it can be talked to */
  start(): Promise<void>;
}

export interface NetworkReceiver {
  readonly kind: NetworkKind;
  readonly port: number;
  /** keys of its sink in the configuration beside the common ones, when it is reached at `port` */
  keys(this: void, port: number): Readonly<Record<string, unknown>>;
  /** what dies with it; the first is what the sink talks to */
  readonly mortals: readonly Mortal[];
  /** all rows, when nothing more comes */
  held(this: void): Promise<HeldRow[]>;
  /** records that came, doubles included; null: it does not count */
  countArrivals(this: void): number | null;
  /** from now on it refuses the record with this key for good; null: none. Absent: it has no way to refuse */
  poison?(this: void, key: string | null): Promise<void>;
  /** ends it; its files go with the folder */
  stop(this: void): Promise<void>;
}

export interface ReceiverWishes {
  readonly folder: string;
  readonly site: string;
  /** of 0 to 19: on a site a receiver is another machine, and takes no processor time of the gateway's */
  readonly niceness: number;
  /** true: a broker has on the disk at once what it holds for sessions, which is slow; absent: within a second */
  readonly savesEachChange?: boolean;
}
