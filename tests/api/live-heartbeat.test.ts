/** What tells a reader that the live stream is alive, and how a reader that opened it anew goes on. */
import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { LIVE_HEARTBEAT_MS } from '../../shared/live-terms.js';
import { buildServer } from '../../src/api/server.js';
import { makeFakeGateway, NOW, rate, type FakeGateway } from './fake-gateway.js';

let gateway: FakeGateway;
let address: string;
let close: () => Promise<void>;
let abort: AbortController;

beforeEach(async () => {
  vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
  abort = new AbortController();
  gateway = makeFakeGateway();
  const server = buildServer(gateway, '127.0.0.1');
  address = await server.listen({ host: '127.0.0.1', port: 0 });
  close = () => server.close();
});
afterEach(async () => {
  vi.useRealTimers();
  abort.abort();
  await close();
});

/** Reads until `isEnough` of all that came. */
async function open(query: string, headers: Record<string, string> = {}) {
  const response = await fetch(`${address}/api/v1/live${query}`, { headers, signal: abort.signal });
  const reader = (response.body as ReadableStream<Uint8Array>).getReader();
  let text = '';
  return async (isEnough: (text: string) => boolean): Promise<string> => {
    while (!isEnough(text)) text += new TextDecoder().decode((await reader.read()).value);
    return text;
  };
}

const lastIdIn = (text: string): string => [...text.matchAll(/^id: (\S+)$/gm)].at(-1)![1]!;

it('a reader hears each 15 s that the gateway is there, as an event without an id', async () => {
  const read = await open('');
  await read((text) => text.includes('id: '));
  vi.advanceTimersByTime(2 * LIVE_HEARTBEAT_MS);
  const text = await read((all) => all.split('event: heartbeat').length === 3);
  const beat = `event: heartbeat\ndata: {"now":"${new Date(NOW).toISOString()}"}\n\n`;
  expect(text.split(beat)).toHaveLength(3);
});

it('the last id may stand in the address, and the header goes before it', async () => {
  const first = await open('');
  const begun = lastIdIn(await first((text) => text.includes('id: ')));
  gateway.emit({ kind: 'rate', rate });
  const told = lastIdIn(await first((text) => text.includes('event: rate')));
  const again = await open(`?last_event_id=${begun}`);
  expect(await again((text) => text.includes('event: rate'))).toContain(`id: ${told}\nevent: rate\n`);
  // a browser that connects again by itself asks the old address, with the newer id in the header
  const newer = await open(`?last_event_id=${begun}`, { 'last-event-id': told });
  vi.advanceTimersByTime(LIVE_HEARTBEAT_MS);
  expect(await newer((text) => text.includes('event: heartbeat'))).not.toContain('event: rate');
});
