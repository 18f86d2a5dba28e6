/**
 * Walks the frames of a batch. Layout of a frame, little endian: f64 time of arrival (ms), u32 bytes of payload, u32 index
 * of the topic's name, u32 index of the client's name, u8 kind, u8 flags, u16 zero; then the payload. The intake's
 * `batch-writer.ts` writes it; a test holds both to the same bytes.
 */

export const FRAME_HEADER_BYTES = 24;
export const FrameKind = { publish: 0, sessionEnd: 1 } as const;
export const FrameFlag = { retain: 1, denied: 2, clean: 4 } as const;

/** One frame, valid until `next` is called again: the reader is reused from frame to frame. */
export class FrameReader {
  receivedAt = 0;
  topic = 0;
  client = 0;
  kind = 0;
  flags = 0;
  payload: Buffer;
  readonly #buffer: ArrayBuffer;
  readonly #view: DataView;
  readonly #length: number;
  #at = 0;

  /** `length`: bytes of the buffer that are used. */
  constructor(buffer: ArrayBuffer, length: number) {
    this.#buffer = buffer;
    this.#view = new DataView(buffer);
    this.#length = length;
    this.payload = Buffer.from(buffer, 0, 0);
  }

  /** False at the end. Throws `RangeError` when the buffer is cut short: our own mistake. */
  next(): boolean {
    if (this.#at >= this.#length) return false;
    const view = this.#view;
    const at = this.#at;
    this.receivedAt = view.getFloat64(at, true);
    const bytes = view.getUint32(at + 8, true);
    this.topic = view.getUint32(at + 12, true);
    this.client = view.getUint32(at + 16, true);
    const marks = view.getUint32(at + 20, true);
    this.kind = marks & 0xff;
    this.flags = (marks >> 8) & 0xff;
    this.payload = Buffer.from(this.#buffer, at + FRAME_HEADER_BYTES, bytes);
    this.#at = at + FRAME_HEADER_BYTES + bytes;
    if (this.#at > this.#length)
      throw new RangeError(`frame at ${at} runs beyond the batch of ${this.#length} bytes`);
    return true;
  }
}
