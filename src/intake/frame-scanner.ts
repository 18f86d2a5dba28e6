/**
 * Follows the packet boundaries of one MQTT stream without decoding packets: enough to refuse a packet by its announced
 * length before a byte of it is kept, and to hand on no more packets at a time than their sender may have unanswered.
 * Why: the broker library collects a packet of any size in memory, from anybody, before it asks who they are.
 * Source: MQTT 3.1.1, 2.2 (fixed header: type in the upper four bits, then the remaining length in 1 to 4 bytes of 7 bits).
 */

const CONNECT = 1;
const DISCONNECT = 14;

export interface FrameLimits {
  /** largest packet, header included */
  readonly packetBytesMax: number;
  /** largest first packet, when nobody has logged in yet */
  readonly connectBytesMax: number;
}

export class FrameScanner {
  /** true once the sender has said goodbye in the proper way */
  sawDisconnect = false;
  /** why the stream is refused; null: nothing wrong so far */
  fault: string | null = null;
  readonly #limits: FrameLimits;
  /** bytes still to come of the packet at hand */
  #left = 0;
  /** 0: at a packet's first byte; 1 to 4: inside its length field */
  #lengthBytes = 0;
  #length = 0;
  #type = 0;
  #isFirst = true;

  constructor(limits: FrameLimits) {
    this.#limits = limits;
  }

  /** Whether everything scanned so far were whole packets. */
  get isBetweenPackets(): boolean {
    return this.#left === 0 && this.#lengthBytes === 0;
  }

  /**
   * Scans up to `packetsMax` packet beginnings (at least 1) and returns how many bytes belong to them; the rest is to be scanned
   * again later. On a fault the answer is meaningless.
   */
  scan(chunk: Uint8Array, packetsMax: number): number {
    let i = 0;
    let packets = 0;
    const end = chunk.length;
    while (i < end) {
      if (this.#left > 0) {
        const step = Math.min(this.#left, end - i);
        this.#left -= step;
        i += step;
        continue;
      }
      if (this.#lengthBytes === 0) {
        if (packets >= packetsMax) return i;
        packets += 1;
        this.#begin(chunk[i]!);
        i += 1;
      } else {
        const byte = chunk[i]!;
        i += 1;
        this.#length += (byte & 0x7f) * 128 ** (this.#lengthBytes - 1);
        if ((byte & 0x80) === 0) this.#endLength();
        else if (++this.#lengthBytes > 4) this.fault = 'a packet length of more than four bytes';
      }
      if (this.fault !== null) return i;
    }
    return end;
  }

  #begin(byte: number): void {
    this.#type = byte >> 4;
    this.#length = 0;
    this.#lengthBytes = 1;
    if (this.#isFirst && this.#type !== CONNECT) this.fault = 'a first packet that is no CONNECT';
    if (this.#type === 0 || this.#type === 15)
      this.fault = `packet type ${this.#type}, which MQTT 3.1.1 does not have`;
    if (this.#type === DISCONNECT) this.sawDisconnect = true;
  }

  #endLength(): void {
    const bytes = this.#length + 1 + this.#lengthBytes;
    const most = this.#isFirst ? this.#limits.connectBytesMax : this.#limits.packetBytesMax;
    if (bytes > most) {
      const which = this.#isFirst ? 'a CONNECT' : 'a packet';
      this.fault = `${which} of ${bytes} bytes, ${most} are allowed`;
    }
    this.#left = this.#length;
    this.#lengthBytes = 0;
    this.#isFirst = false;
  }
}
