import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterAll, describe, expect, it } from 'vitest';
import {
  CaptureWriter,
  NotACapture,
  readCapture,
  sizeOfFiles,
  type BadLine,
} from '../../src/engine/capture-file.js';
import { formatLine, parseLine, type CaptureEvent, type CaptureLine } from '../../src/engine/capture-line.js';

const folder = mkdtempSync(join(tmpdir(), 'capture-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const bytes = (text: string): Uint8Array => Buffer.from(text);
const EVENTS: CaptureEvent[] = [
  { kind: 'connect', arrived: 1, client: 'a' },
  {
    kind: 'message',
    arrived: 2,
    client: 'a',
    topic: 's/in/m/de/reading',
    payload: bytes('{"count": 1.0}'),
    retain: false,
  },
  {
    kind: 'message',
    arrived: 3,
    client: 'a',
    topic: 's/in/m/drive/state',
    payload: bytes('{\n"state":"running"}'),
    retain: true,
  },
  { kind: 'message', arrived: 4, client: 'ü', topic: 't', payload: Buffer.from([0xff, 0x00]), retain: false },
  { kind: 'message', arrived: 4, client: 'ü', topic: 't', payload: bytes(''), retain: true },
  { kind: 'message', arrived: 5, client: 'a', topic: 't', payload: bytes('no json'), retain: false },
  { kind: 'tick', arrived: 5 },
  { kind: 'disconnect', arrived: 6, client: 'a', isClean: true },
  { kind: 'disconnect', arrived: 7, client: 'b', isClean: false },
];
const LINES: CaptureLine[] = [
  { kind: 'connect', arrived: 1, client: 'a' },
  {
    kind: 'message',
    arrived: 2,
    client: 'a',
    topic: 's/in/m/de/reading',
    payload: { json: { count: 1 } },
    retain: false,
  },
  {
    kind: 'message',
    arrived: 3,
    client: 'a',
    topic: 's/in/m/drive/state',
    payload: { json: { state: 'running' } },
    retain: true,
  },
  {
    kind: 'message',
    arrived: 4,
    client: 'ü',
    topic: 't',
    payload: { bytes: Buffer.from([0xff, 0x00]) },
    retain: false,
  },
  { kind: 'message', arrived: 4, client: 'ü', topic: 't', payload: { bytes: Buffer.alloc(0) }, retain: true },
  {
    kind: 'message',
    arrived: 5,
    client: 'a',
    topic: 't',
    payload: { bytes: Buffer.from('no json') },
    retain: false,
  },
  { kind: 'tick', arrived: 5 },
  { kind: 'disconnect', arrived: 6, client: 'a', isClean: true },
  { kind: 'disconnect', arrived: 7, client: 'b', isClean: false },
];

async function readAll(file: string, badLinesMax = 10): Promise<{ lines: CaptureLine[]; bad: BadLine[] }> {
  const bad: BadLine[] = [];
  const lines: CaptureLine[] = [];
  for await (const some of readCapture(file, { badLinesMax, onBadLine: (line) => bad.push(line) }))
    lines.push(...some);
  return { lines, bad };
}

describe('a line', () => {
  it('is what it was, after it was written and read', () => {
    expect(EVENTS.map((event) => parseLine(formatLine(event)))).toEqual(LINES);
  });

  it('of JSON keeps its payload as it was sent', () => {
    expect(formatLine(EVENTS[1]!)).toBe(
      '{"arrived":2,"client":"a","topic":"s/in/m/de/reading","payload":{"count": 1.0}}',
    );
  });

  it.each([
    ['{', /no JSON/],
    ['[1]', /expected a JSON object/],
    ['{"topic":"t","payload":1}', /arrived: expected integer/],
    ['{"arrived":1.5,"topic":"t","payload":1}', /arrived: expected integer/],
    ['{"arrived":1,"payload":1}', /topic: expected text/],
    ['{"arrived":1,"topic":"t"}', /expected payload, payload64 or event/],
    ['{"arrived":1,"event":"tock"}', /event: expected connect, disconnect or tick/],
  ])('%s is refused', (text, reason) => {
    const found = parseLine(text);
    expect(found.kind === 'bad' ? found.reason : '').toMatch(reason);
  });
});

describe('a file', () => {
  it.each(['plain.ndjson', 'packed.ndjson.gz'])('%s is read as it was written', async (name) => {
    const file = join(folder, name);
    const writer = new CaptureWriter(file);
    for (const event of EVENTS) writer.write(event);
    await writer.close();
    expect(await readAll(file)).toEqual({ lines: LINES, bad: [] });
    expect(await sizeOfFiles([file])).toBeGreaterThan(100);
  });

  it('is never overwritten', async () => {
    const file = join(folder, 'there.ndjson');
    writeFileSync(file, 'mine');
    await expect(new CaptureWriter(file).close()).rejects.toMatchObject({ code: 'EEXIST' });
  });

  it('with broken lines is read around them, each told with its number', async () => {
    const file = join(folder, 'broken.ndjson');
    writeFileSync(file, '{"arrived":1,"event":"tick"}\n\nnonsense\r\n{"arrived":2,"event":"tick"}');
    const { lines, bad } = await readAll(file);
    expect(lines.map(({ arrived }) => arrived)).toEqual([1, 2]);
    expect(bad).toEqual([{ file, line: 3, reason: expect.stringMatching(/no JSON/) as string }]);
  });

  it('of something else is given up', async () => {
    const file = join(folder, 'other.ndjson');
    writeFileSync(file, 'x\n'.repeat(20));
    await expect(readAll(file)).rejects.toThrow(NotACapture);
  });

  it('with characters cut by the end of a piece is read whole', async () => {
    const file = join(folder, 'big.ndjson.gz');
    const line = JSON.stringify({ arrived: 1, client: 'ü€😀'.repeat(30), topic: 't', payload: 1 });
    writeFileSync(file, gzipSync(`${line}\n`.repeat(12_000)));
    const { lines, bad } = await readAll(file);
    expect(bad).toEqual([]);
    expect(lines).toHaveLength(12_000);
    expect(new Set(lines.map((l) => (l.kind === 'message' ? l.client : '')))).toEqual(
      new Set(['ü€😀'.repeat(30)]),
    );
  });
});
