/** What leaves the plant, and what arrives at the gateway's door. */

/** One line of a capture: a message, or a happening on the line (`event`), whose topic is '' and payload empty. */
export interface Message {
  /** by the gateway's clock, milliseconds since the epoch; never falls from one to the next */
  readonly arrived: number;
  readonly client: string;
  readonly topic: string;
  /** bytes where it is no JSON */
  readonly payload: object | Buffer;
  readonly retain: boolean;
  readonly event?: 'connect' | 'disconnect' | 'tick';
  /** published by the broker in the client's name: its will */
  readonly isWill?: true;
}

/** What one reading means to the ledger: which segment of the counter, and the count before any wrap. */
export interface ReadingNote {
  readonly segment: SegmentTruth;
  /** true time of the sample */
  readonly at: number;
  /** pulses since power-up, or since the count that the device came with; never wraps */
  readonly unwrapped: number;
  /** the count in the message is not what the counter held */
  readonly isTorn: boolean;
}

/** A message on its way out of a client. `at`: true time. */
export interface Send {
  readonly at: number;
  readonly client: string;
  readonly topic: string;
  readonly payload: object | Buffer;
  readonly retain: boolean;
  readonly kind: 'reading' | 'drive' | 'line';
  readonly event?: 'connect' | 'disconnect';
  readonly isWill?: true;
  readonly note?: ReadingNote;
}

/** A reading that the network did not lose. */
export interface DeliveredReading {
  readonly at: number;
  readonly unwrapped: number;
}

/** One unbroken run of one counter, as it really was. */
export interface SegmentTruth {
  readonly device: string;
  readonly boot: number;
  /** true time of power-up; before the run for the first segment */
  readonly poweredFrom: number;
  readonly poweredTo: number;
  /** the count at `poweredFrom`, or at the beginning of the run; unwrapped counts start here */
  readonly initialCount: number;
  /** the counter started from 0 within the run */
  readonly startsAtZero: boolean;
  readonly counterBits: 16 | 32 | 53;
  /** first and last reading of the segment that arrived (torn ones apart); null: none did */
  firstDelivered: DeliveredReading | null;
  lastDelivered: DeliveredReading | null;
  sent: number;
  delivered: number;
}

/** Something that went wrong, on purpose. Times are true ones. */
export interface Fault {
  readonly kind: string;
  readonly at: number;
  /** null: an instant */
  readonly to: number | null;
  readonly detail?: string;
}

/** Produces what it sends up to a time, in any order; what it produces later never arrives earlier than that time. */
export interface Source {
  advance(until: number, out: Message[]): void;
}
