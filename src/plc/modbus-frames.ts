/**
 * Frames of Modbus TCP out of the bytes of a connection: seven bytes of header, then function and data.
 * Why not a package: those that are there bound neither requests under way nor clients nor silence, and what is left of the
 * protocol for a server that only reads is this file and `modbus-answer.ts`.
 */

export interface ModbusFrame {
  readonly transaction: number;
  readonly unit: number;
  readonly pdu: Buffer;
}

const HEADER_BYTES = 7;
/** Unit and PDU: the length of the header counts both, and a PDU has at most 253 bytes. */
const LENGTH_LEAST = 2;
const LENGTH_MOST = 254;

/** Frames that are complete, and the bytes of the next one. Null: this is not Modbus TCP, and the connection is of no use. */
export function takeFrames(bytes: Buffer): { frames: ModbusFrame[]; rest: Buffer } | null {
  const frames: ModbusFrame[] = [];
  let at = 0;
  while (bytes.length - at >= HEADER_BYTES) {
    const length = bytes.readUInt16BE(at + 4);
    if (bytes.readUInt16BE(at + 2) !== 0 || length < LENGTH_LEAST || length > LENGTH_MOST) return null;
    const end = at + HEADER_BYTES - 1 + length;
    if (end > bytes.length) break;
    frames.push({
      transaction: bytes.readUInt16BE(at),
      unit: bytes[at + 6]!,
      pdu: bytes.subarray(at + HEADER_BYTES, end),
    });
    at = end;
  }
  return { frames, rest: bytes.subarray(at) };
}

export function writeFrame(transaction: number, unit: number, pdu: Buffer): Buffer {
  const header = Buffer.allocUnsafe(HEADER_BYTES);
  header.writeUInt16BE(transaction, 0);
  header.writeUInt16BE(0, 2);
  header.writeUInt16BE(1 + pdu.length, 4);
  header[6] = unit;
  return Buffer.concat([header, pdu]);
}
