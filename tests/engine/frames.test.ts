import fc from 'fast-check';
import { expect, it } from 'vitest';
import * as reader from '../../src/engine/frame-reader.js';
import * as writer from '../../src/intake/batch-writer.js';
import { FrameScanner } from '../../src/intake/frame-scanner.js';
import { generate } from 'mqtt-packet';

it('the writer of frames and their reader agree', () => {
  expect(writer.FRAME_HEADER_BYTES).toBe(reader.FRAME_HEADER_BYTES);
  expect(writer.FrameKind).toEqual(reader.FrameKind);
  expect(writer.FrameFlag).toEqual(reader.FrameFlag);
  const frame = fc.record({
    kind: fc.constantFrom(0 as const, 1 as const),
    flags: fc.nat(7),
    receivedAt: fc.integer({ min: 0, max: 4_000_000_000_000 }),
    client: fc.nat(65_535),
    topic: fc.nat(65_535),
    payload: fc.uint8Array({ maxLength: 300 }),
  });
  fc.assert(
    fc.property(fc.array(frame, { maxLength: 60 }), (frames) => {
      const out = new writer.BatchWriter(64, null);
      for (const f of frames) out.add(f.kind, f.flags, f.receivedAt, f.client, f.topic, f.payload);
      const back = new reader.FrameReader(out.buffer, out.length);
      const found = [];
      while (back.next()) {
        const { kind, flags, receivedAt, client, topic, payload } = back;
        found.push({ kind, flags, receivedAt, client, topic, payload: Uint8Array.from(payload) });
      }
      expect(found).toEqual(frames);
    }),
    { numRuns: 200, seed: 3 },
  );
});

it('the scanner finds the same packets however the stream is cut', () => {
  const packets = [
    generate({
      cmd: 'connect',
      clientId: 'a',
      protocolId: 'MQTT',
      protocolVersion: 4,
      clean: true,
      keepalive: 0,
    }),
    generate({
      cmd: 'publish',
      topic: 't',
      payload: 'x'.repeat(200),
      qos: 1,
      messageId: 1,
      retain: false,
      dup: false,
    }),
    generate({ cmd: 'pingreq' }),
    generate({ cmd: 'publish', topic: 't', payload: '', qos: 0, retain: false, dup: false }),
    generate({ cmd: 'disconnect' }),
  ];
  const bytes = Buffer.concat(packets);
  const ends = packets.map((_, i) => Buffer.concat(packets.slice(0, i + 1)).length);
  fc.assert(
    fc.property(fc.array(fc.integer({ min: 1, max: 60 }), { minLength: 1, maxLength: 60 }), (sizes) => {
      const scanner = new FrameScanner({ packetBytesMax: 1_000, connectBytesMax: 1_000 });
      const seen: number[] = [];
      let at = 0;
      for (let i = 0; at < bytes.length; i++) {
        const end = Math.min(bytes.length, at + sizes[i % sizes.length]!);
        let chunk: Uint8Array = bytes.subarray(at, end);
        while (chunk.length > 0) {
          const taken = scanner.scan(chunk, 1);
          if (taken < chunk.length) seen.push(at + taken);
          at += taken;
          chunk = chunk.subarray(taken);
        }
      }
      expect(scanner.fault).toBeNull();
      expect(scanner.sawDisconnect).toBe(true);
      expect(seen.every((place) => ends.includes(place))).toBe(true);
    }),
    { numRuns: 300, seed: 4 },
  );
});
