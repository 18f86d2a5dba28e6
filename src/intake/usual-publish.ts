/**
 * Finds the usual publish, of QoS 1 and not retained, in the bytes of a socket. A packet object and a text for each topic
 * would cost more than all that is done with it until its commit.
 * Source: MQTT 3.1.1, 2.2 (fixed header) and 3.3 (PUBLISH).
 */

/** PUBLISH, QoS 1, not retained; without and with the mark of a repetition. */
const FIRST = 0x32;
const REPEATED = 0x3a;
/** So many bytes of length at most: 2 MB, which is more than any configuration allows. */
const LENGTH_BYTES_MAX = 3;

/** It is not all there yet. */
export const INCOMPLETE = -1;
/** Not the usual publish: somebody else must read it. */
export const OTHER = 0;

/** One publish, valid until `find` is called again: the object is reused from packet to packet. */
export class UsualPublish {
  /** all bytes of the packet, its header included; 0: not known */
  bytes = 0;
  /** places in the chunk: the topic, then the identifier, then the payload up to the packet's end */
  topicFrom = 0;
  topicTo = 0;
  payloadFrom = 0;
  end = 0;
  messageId = 0;

  /**
   * What begins at `at`, which must be the beginning of a packet: the bytes of a usual publish that is all there, or
   * `INCOMPLETE`, or `OTHER`. Whether the topic is one is not looked at.
   */
  find(chunk: Uint8Array, at: number): number {
    this.bytes = 0;
    const first = chunk[at];
    if (first !== FIRST && first !== REPEATED) return OTHER;
    let place = at + 1;
    let length = 0;
    for (let scale = 1; ; scale *= 128) {
      if (place >= chunk.length) return INCOMPLETE;
      const byte = chunk[place]!;
      place += 1;
      length += (byte & 0x7f) * scale;
      if (byte < 0x80) break;
      if (place - at > LENGTH_BYTES_MAX) return OTHER;
    }
    // two bytes of topic length, one of topic, two of identifier
    if (length < 5) return OTHER;
    this.end = place + length;
    this.bytes = this.end - at;
    if (this.end > chunk.length) return INCOMPLETE;
    this.topicFrom = place + 2;
    this.topicTo = this.topicFrom + ((chunk[place]! << 8) | chunk[place + 1]!);
    this.payloadFrom = this.topicTo + 2;
    if (this.topicTo === this.topicFrom || this.payloadFrom > this.end) return OTHER;
    this.messageId = (chunk[this.topicTo]! << 8) | chunk[this.topicTo + 1]!;
    return this.messageId === 0 ? OTHER : this.bytes;
  }
}
