/**
 * Writes frames, one behind the other, into one buffer that is handed to the engine's thread without copying.
 * Layout of a frame, little endian: f64 time of arrival (ms), u32 bytes of payload, u32 index of the topic's name,
 * u32 index of the client's name, u8 kind, u8 flags, u16 zero; then the payload. The engine's `frame-reader.ts` reads it.
 */

export const FRAME_HEADER_BYTES = 24;
export const FrameKind = { publish: 0, sessionEnd: 1 } as const;
export type FrameKind = (typeof FrameKind)[keyof typeof FrameKind];
export const FrameFlag = { retain: 1, denied: 2, clean: 4 } as const;

export class BatchWriter {
  #buffer: ArrayBuffer;
  #bytes: Uint8Array;
  #view: DataView;
  #length = 0;

  /** `spare`: a buffer that came back and may be filled again. */
  constructor(bytesLeast: number, spare: ArrayBuffer | null) {
    this.#buffer = spare !== null && spare.byteLength >= bytesLeast ? spare : new ArrayBuffer(bytesLeast);
    this.#bytes = new Uint8Array(this.#buffer);
    this.#view = new DataView(this.#buffer);
  }

  get buffer(): ArrayBuffer {
    return this.#buffer;
  }

  get length(): number {
    return this.#length;
  }

  add(
    kind: FrameKind,
    flags: number,
    receivedAt: number,
    client: number,
    topic: number,
    payload: Uint8Array,
  ): void {
    const at = this.#length;
    const end = at + FRAME_HEADER_BYTES + payload.length;
    if (end > this.#buffer.byteLength) this.#grow(end);
    const view = this.#view;
    view.setFloat64(at, receivedAt, true);
    view.setUint32(at + 8, payload.length, true);
    view.setUint32(at + 12, topic, true);
    view.setUint32(at + 16, client, true);
    view.setUint32(at + 20, kind | (flags << 8), true);
    if (payload.length > 0) this.#bytes.set(payload, at + FRAME_HEADER_BYTES);
    this.#length = end;
  }

  #grow(least: number): void {
    const old = this.#bytes;
    this.#buffer = new ArrayBuffer(Math.max(least, this.#buffer.byteLength * 2));
    this.#bytes = new Uint8Array(this.#buffer);
    this.#view = new DataView(this.#buffer);
    this.#bytes.set(old.subarray(0, this.#length));
  }
}
