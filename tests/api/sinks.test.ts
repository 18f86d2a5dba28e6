/** The routes of forwarding over a desk in memory. */
import type { FastifyInstance, InjectOptions } from 'fastify';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { sinkLedgerBody, sinksBody, sinkTestBody } from '../../src/api/routes/sinks.js';
import { buildServer } from '../../src/api/server.js';
import { makeFakeGateway } from './fake-gateway.js';

let server: FastifyInstance;
beforeEach(() => {
  server = buildServer(makeFakeGateway(), '127.0.0.1');
});
afterEach(() => server.close());

function ask(url: string, body?: object) {
  const headers = { host: '127.0.0.1:8080', 'content-type': 'application/json' };
  const request: InjectOptions =
    body === undefined ? { url, headers } : { url, headers, method: 'POST', payload: JSON.stringify(body) };
  return server.inject(request);
}

it('says how each sink stands', async () => {
  const { sinks } = sinksBody.parse((await ask('/api/v1/sinks')).json());
  expect(sinks[0]).toMatchObject({
    ...{ name: 'plant', state: 'draining', waiting: 1, backlog: 400, live_lag_ms: 900, eta_ms: 20_000 },
    ...{ last_error: 'ECONNREFUSED', failing_since: null },
  });
});

it('shows the ledger, and what was given up', async () => {
  const ledger = sinkLedgerBody.parse((await ask('/api/v1/sinks/plant/ledger')).json());
  expect(ledger.balanced).toBe(true);
  expect(ledger.lines[0]).toMatchObject({ produced: 12, delivered: 7, pending: 2 });
  expect(ledger.losses[0]).toMatchObject({ count: 1, first_start: '2026-03-01T00:00:00.000Z' });
});

it('tries a sink out, retries, and takes orders for a stretch', async () => {
  expect(sinkTestBody.parse((await ask('/api/v1/sinks/plant/test', {})).json()).ok).toBe(true);
  expect((await ask('/api/v1/sinks/plant/retry', {})).json()).toEqual({ sink: 'plant', records: 1 });
  const wish = { from: '2026-03-01T00:00:00Z', to: '2026-03-02T00:00:00Z', streams: ['rollups'] };
  expect((await ask('/api/v1/sinks/plant/backfill', wish)).json()).toEqual({ sink: 'plant', id: 1 });
  const backwards = await ask('/api/v1/sinks/plant/backfill', { from: wish.to, to: wish.from });
  expect(backwards.statusCode).toBe(400);
});

it('a sink that is not there is 404 with those that are', async () => {
  const missing = await ask('/api/v1/sinks/attic/ledger');
  expect(missing.statusCode).toBe(404);
  expect(missing.json()).toMatchObject({ hint: 'There are: plant.' });
});
