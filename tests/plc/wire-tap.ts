/** Writes what went over a connection as a capture file, for a dissector that others wrote. Source: the pcap file format, and RFC 791 and 9293 for the headers. */
import { writeFileSync } from 'node:fs';

export interface Packet {
  readonly isRequest: boolean;
  readonly bytes: Buffer;
}

const IPV4 = 228;

/** `serverPort`: of the answering side. Checksums are left at zero, which dissectors bear. */
export function writeCapture(path: string, packets: readonly Packet[], serverPort: number): void {
  const head = Buffer.alloc(24);
  head.writeUInt32LE(0xa1b2c3d4, 0);
  head.writeUInt16LE(2, 4);
  head.writeUInt16LE(4, 6);
  head.writeUInt32LE(65_535, 16);
  head.writeUInt32LE(IPV4, 20);
  const next = { request: 1, answer: 1 };
  const records = packets.map(({ isRequest, bytes }, index) => {
    const [from, to] = isRequest ? [49_152, serverPort] : [serverPort, 49_152];
    const [sequence, acknowledged] = isRequest ? [next.request, next.answer] : [next.answer, next.request];
    if (isRequest) next.request += bytes.length;
    else next.answer += bytes.length;
    const packet = Buffer.alloc(40);
    packet.writeUInt8(0x45, 0);
    packet.writeUInt16BE(40 + bytes.length, 2);
    packet.writeUInt8(64, 8);
    packet.writeUInt8(6, 9);
    packet.writeUInt32BE(isRequest ? 0x7f000001 : 0x7f000002, 12);
    packet.writeUInt32BE(isRequest ? 0x7f000002 : 0x7f000001, 16);
    packet.writeUInt16BE(from, 20);
    packet.writeUInt16BE(to, 22);
    packet.writeUInt32BE(sequence, 24);
    packet.writeUInt32BE(acknowledged, 28);
    packet.writeUInt16BE(0x5018, 32);
    packet.writeUInt16BE(65_535, 34);
    const record = Buffer.alloc(16);
    record.writeUInt32LE(1_700_000_000, 0);
    record.writeUInt32LE(index, 4);
    record.writeUInt32LE(40 + bytes.length, 8);
    record.writeUInt32LE(40 + bytes.length, 12);
    return Buffer.concat([record, packet, bytes]);
  });
  writeFileSync(path, Buffer.concat([head, ...records]));
}
