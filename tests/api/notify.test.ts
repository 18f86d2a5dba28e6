import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { notifyBody, notifyTestBody } from '../../src/api/routes/notify.js';
import { buildServer } from '../../src/api/server.js';
import { makeFakeGateway, type FakeGateway } from './fake-gateway.js';

const HOST = { host: '127.0.0.1:8080' };
let gateway: FakeGateway;
let server: FastifyInstance;
beforeEach(() => {
  gateway = makeFakeGateway();
  server = buildServer(gateway, '127.0.0.1');
});
afterEach(() => server.close());

function test(route: string) {
  const headers = { ...HOST, 'content-type': 'application/json' };
  return server.inject({
    method: 'POST',
    url: `/api/v1/notify/routes/${route}/test`,
    headers,
    payload: '{}',
  });
}

it('says what waits on each route, and how each channel does', async () => {
  const response = await server.inject({ url: '/api/v1/notify', headers: HOST });
  const { routes, channels } = notifyBody.parse(response.json());
  expect(routes).toEqual([
    {
      ...{ route: 'shift', open: true, waiting: 2, due_at: '2026-03-02T06:00:00.000Z' },
      ...{ limited: false, escalating: 1 },
    },
  ]);
  expect(channels[0]).toMatchObject({
    ...{ channel: 'email', state: 'failing', waiting: 3, last_error: 'ECONNREFUSED' },
    ...{ failing_since: '2026-03-02T06:00:00.000Z', refused: ['gone@tarn-hollow.example'] },
  });
});

it('tries a route and gives a plain verdict', async () => {
  const response = await test('shift');
  expect(notifyTestBody.parse(response.json())).toEqual({
    route: 'shift',
    ok: false,
    channels: [
      {
        ...{ channel: 'email', ok: false },
        says: 'taken in part; gone@tarn-hollow.example is refused: 550 no such user',
      },
    ],
  });
});

it('a route that is not there is 404 with those that are; a name that is none, 400', async () => {
  const missing = await test('boss');
  expect(missing.statusCode).toBe(404);
  expect(missing.json()).toMatchObject({ hint: 'There are: shift.' });
  expect((await test('NO')).statusCode).toBe(400);
});

it('one test at a time', async () => {
  let finish: (() => void) | null = null;
  gateway.notify.test = () =>
    new Promise((resolve) => {
      finish = () => resolve([]);
    });
  const first = test('shift');
  while (finish === null) await new Promise((resolve) => setImmediate(resolve));
  expect((await test('shift')).statusCode).toBe(503);
  (finish as () => void)();
  expect((await first).statusCode).toBe(200);
});
