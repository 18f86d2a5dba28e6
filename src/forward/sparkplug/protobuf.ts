/**
 * The few wire types of protocol buffers that a Sparkplug payload needs. Written here rather than taken from a library: the
 * bytes are what a host checks, and a field that an encoder does not know must not get lost on the way.
 * Source: Protocol Buffers encoding guide: varints, fixed 64 bit, length-delimited; field key = number << 3 | wire type.
 */
const VARINT = 0;
const FIXED64 = 1;
const DELIMITED = 2;
const FIXED32 = 5;
/** Bytes of the longest varint. */
const VARINT_MOST = 10;
const TWO_32 = 0x1_0000_0000;

/** Fields in the order they are written. Grows as needed. */
export class ProtobufWriter {
  private bytes = Buffer.allocUnsafe(4_096);
  private length = 0;

  /** Integers within ±2^53; a negative one as 64 bits in two's complement. */
  integer(field: number, value: number): void {
    this.key(field, VARINT);
    this.varint(value);
  }

  boolean(field: number, value: boolean): void {
    this.key(field, VARINT);
    this.varint(value ? 1 : 0);
  }

  double(field: number, value: number): void {
    this.key(field, FIXED64);
    this.reserve(8);
    this.bytes.writeDoubleLE(value, this.length);
    this.length += 8;
  }

  text(field: number, value: string): void {
    this.key(field, DELIMITED);
    const size = Buffer.byteLength(value);
    this.varint(size);
    this.reserve(size);
    this.length += this.bytes.write(value, this.length, 'utf8');
  }

  /** A message within this one. */
  message(field: number, write: () => void): void {
    this.key(field, DELIMITED);
    const start = this.length;
    write();
    const size = this.length - start;
    // its length comes before it and is known only now: what was written moves up by as much
    const lengthBytes = countVarintBytes(size);
    this.reserve(lengthBytes);
    this.bytes.copyWithin(start + lengthBytes, start, this.length);
    this.length = start;
    this.varint(size);
    this.length += size;
  }

  /** A copy of what was written; the writer is empty afterwards. */
  finish(): Buffer {
    const done = Buffer.from(this.bytes.subarray(0, this.length));
    this.length = 0;
    return done;
  }

  private key(field: number, type: number): void {
    this.varint(field * 8 + type);
  }

  private varint(value: number): void {
    this.reserve(VARINT_MOST);
    if (value < 0) {
      let rest = BigInt.asUintN(64, BigInt(value));
      for (; rest > 127n; rest >>= 7n) this.bytes[this.length++] = Number(rest & 127n) | 128;
      this.bytes[this.length++] = Number(rest);
      return;
    }
    let rest = value;
    for (; rest >= TWO_32; rest = Math.floor(rest / 128)) this.bytes[this.length++] = (rest % 128) | 128;
    for (; rest > 127; rest >>>= 7) this.bytes[this.length++] = (rest & 127) | 128;
    this.bytes[this.length++] = rest;
  }

  private reserve(more: number): void {
    if (this.length + more <= this.bytes.length) return;
    const grown = Buffer.allocUnsafe(2 * (this.length + more));
    this.bytes.copy(grown, 0, 0, this.length);
    this.bytes = grown;
  }
}

function countVarintBytes(value: number): number {
  let bytes = 1;
  for (let rest = value; rest > 127; rest = Math.floor(rest / 128)) bytes += 1;
  return bytes;
}

/** One field as read: an integer, or the bytes of whatever else it is. */
export interface ProtobufField {
  readonly field: number;
  readonly value: number | Buffer;
}

/** Throws a `RangeError` where the bytes end too early or a wire type is none of the four in use. */
export function* readFields(bytes: Buffer): Generator<ProtobufField> {
  let at = 0;
  const varint = (): number => {
    let value = 0;
    for (let i = 0; i < VARINT_MOST; i++) {
      const byte = bytes[at++];
      if (byte === undefined) throw new RangeError('the bytes end within a number');
      value += (byte & 127) * 2 ** (7 * i);
      if (byte < 128) return value;
    }
    throw new RangeError('a number is longer than 64 bits');
  };
  const take = (size: number): Buffer => {
    if (at + size > bytes.length) throw new RangeError('the bytes end within a field');
    return bytes.subarray(at, (at += size));
  };
  while (at < bytes.length) {
    const key = varint();
    const field = Math.floor(key / 8);
    switch (key % 8) {
      case VARINT:
        yield { field, value: varint() };
        break;
      case FIXED64:
        yield { field, value: take(8) };
        break;
      case DELIMITED:
        yield { field, value: take(varint()) };
        break;
      case FIXED32:
        yield { field, value: take(4) };
        break;
      default:
        throw new RangeError(`wire type ${key % 8} is not in use`);
    }
  }
}
