/**
 * One line of a capture: a message as it arrived, the beginning or end of a session, or a tick. JSON, one object a line;
 * `docs/capture-format.md` describes it. Times in ms since the epoch, UTC.
 */

export type CaptureLine =
  | {
      readonly kind: 'message';
      readonly arrived: number;
      readonly client: string;
      readonly topic: string;
      /** parsed JSON, or bytes that are none */
      readonly payload: { readonly json: unknown } | { readonly bytes: Buffer };
      readonly retain: boolean;
    }
  | { readonly kind: 'connect'; readonly arrived: number; readonly client: string }
  | {
      readonly kind: 'disconnect';
      readonly arrived: number;
      readonly client: string;
      readonly isClean: boolean;
    }
  | { readonly kind: 'tick'; readonly arrived: number };

/** What a recorder is told, as `parseLine` gives it back but for the payload, which is raw. */
export type CaptureEvent =
  | {
      readonly kind: 'message';
      readonly arrived: number;
      readonly client: string;
      readonly topic: string;
      readonly payload: Uint8Array;
      readonly retain: boolean;
    }
  | Exclude<CaptureLine, { kind: 'message' }>;

/** Text that is no such line: an error that says why. */
export function parseLine(text: string): CaptureLine | { readonly kind: 'bad'; readonly reason: string } {
  let found: unknown;
  try {
    found = JSON.parse(text);
  } catch (error) {
    return bad(`no JSON (${error instanceof Error ? error.message : String(error)})`);
  }
  if (typeof found !== 'object' || found === null || Array.isArray(found))
    return bad('expected a JSON object');
  const line = found as Record<string, unknown>;
  const { arrived, client = '' } = line;
  if (typeof arrived !== 'number' || !Number.isSafeInteger(arrived) || arrived < 0) {
    return bad('arrived: expected integer milliseconds since 1970');
  }
  if (typeof client !== 'string') return bad('client: expected text');
  if (line['event'] !== undefined) return parseEvent(line, arrived, client);
  return parseMessage(line, arrived, client);
}

function parseEvent(
  line: Record<string, unknown>,
  arrived: number,
  client: string,
): ReturnType<typeof parseLine> {
  const { event } = line;
  if (event === 'tick') return { kind: 'tick', arrived };
  if (event === 'connect') return { kind: 'connect', arrived, client };
  if (event === 'disconnect') return { kind: 'disconnect', arrived, client, isClean: line['clean'] === true };
  return bad('event: expected connect, disconnect or tick');
}

function parseMessage(
  line: Record<string, unknown>,
  arrived: number,
  client: string,
): ReturnType<typeof parseLine> {
  const { topic, payload64 } = line;
  if (typeof topic !== 'string' || topic === '') return bad('topic: expected text');
  const retain = line['retain'] === true;
  if (typeof payload64 === 'string') {
    const bytes = Buffer.from(payload64, 'base64');
    return { kind: 'message', arrived, client, topic, payload: { bytes }, retain };
  }
  if (payload64 !== undefined) return bad('payload64: expected base64');
  if (!('payload' in line)) return bad('expected payload, payload64 or event');
  return { kind: 'message', arrived, client, topic, payload: { json: line['payload'] }, retain };
}

function bad(reason: string): { kind: 'bad'; reason: string } {
  return { kind: 'bad', reason };
}

/** The line without its line break. A payload that is JSON stands there as it was sent. */
export function formatLine(event: CaptureEvent): string {
  const { arrived } = event;
  switch (event.kind) {
    case 'tick':
      return `{"arrived":${arrived},"event":"tick"}`;
    case 'connect':
      return JSON.stringify({ arrived, event: 'connect', client: event.client });
    case 'disconnect':
      return JSON.stringify({ arrived, event: 'disconnect', client: event.client, clean: event.isClean });
    case 'message': {
      const { client, topic, payload, retain } = event;
      const head = JSON.stringify({ arrived, client, topic, ...(retain ? { retain } : {}) }).slice(0, -1);
      return `${head},${formatPayload(payload)}}`;
    }
  }
}

function formatPayload(payload: Uint8Array): string {
  const bytes = Buffer.from(payload);
  const text = bytes.toString('utf8');
  if (Buffer.byteLength(text) === bytes.length && !text.includes('\ufffd')) {
    try {
      const json: unknown = JSON.parse(text);
      return `"payload":${/[\r\n]/.test(text) ? JSON.stringify(json) : text.trim()}`;
    } catch {
      // no JSON: kept as bytes
    }
  }
  return `"payload64":"${bytes.toString('base64')}"`;
}
