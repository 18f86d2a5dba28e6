/** What only a socket shows: answers to what is no request, and the headers of a stream. */
import type { FastifyInstance } from 'fastify';
import { connect, type AddressInfo } from 'node:net';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { problemBody } from '../../src/api/bodies.js';
import { buildServer } from '../../src/api/server.js';
import { makeFakeGateway } from './fake-gateway.js';

const SAFE = [
  ...['content-security-policy', 'x-content-type-options', 'referrer-policy', 'cache-control'],
  ...['cross-origin-resource-policy', 'cross-origin-opener-policy'],
];
let server: FastifyInstance;
let address: string;

beforeEach(async () => {
  server = buildServer(makeFakeGateway(), '127.0.0.1');
  address = await server.listen({ host: '127.0.0.1', port: 0 });
});
afterEach(() => server.close());

/** All that comes back until the other end closes. */
function send(text: string): Promise<string> {
  const { port } = server.server.address() as AddressInfo;
  return new Promise((resolve, reject) => {
    let answer = '';
    const socket = connect(port, '127.0.0.1', () => socket.write(text));
    socket.setEncoding('utf8').on('data', (piece: string) => (answer += piece));
    socket.on('close', () => resolve(answer)).on('error', reject);
  });
}

it.each([
  ['what is no HTTP', 'HELLO\r\n\r\n', 400],
  ['a method that is none', 'FOO / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n', 400],
  ['headers without end', `GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: ${'a'.repeat(40_000)}\r\n\r\n`, 431],
])('%s is refused with a problem and a hint', async (_what, text, status) => {
  const [head = '', body = ''] = (await send(text)).split('\r\n\r\n');
  expect(head).toMatch(new RegExp(`^HTTP/1\\.1 ${status} `));
  expect(head).toContain('content-type: application/problem+json');
  for (const name of SAFE) expect(head).toContain(`\r\n${name}: `);
  expect(problemBody.parse(JSON.parse(body))).toMatchObject({ status, hint: 'Send well-formed HTTP/1.1.' });
});

it('a stream has the headers of every answer', async () => {
  const abort = new AbortController();
  const { headers, status } = await fetch(`${address}/api/v1/live`, { signal: abort.signal });
  abort.abort();
  expect([status, headers.get('content-type')]).toEqual([200, 'text/event-stream; charset=utf-8']);
  expect(SAFE.filter((name) => headers.get(name) === null)).toEqual([]);
});

it('a stream refuses what it does not know, instead of beginning now as if nothing were missed', async () => {
  for (const query of ['last-event-id=k-1-1-1', 'lastEventId=k-1-1-1', 'last_event_id=a&last_event_id=b']) {
    const response = await fetch(`${address}/api/v1/live?${query}`);
    expect(response.status, query).toBe(400);
    expect(problemBody.parse(await response.json()).hint).toContain('last_event_id');
  }
});
