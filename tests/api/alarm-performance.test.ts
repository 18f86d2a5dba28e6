import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { performanceBody } from '../../src/api/alarm-performance-bodies.js';
import { buildServer } from '../../src/api/server.js';
import { makeFakeGateway, NOW } from './fake-gateway.js';

let server: FastifyInstance;
beforeEach(() => {
  server = buildServer(makeFakeGateway(), '127.0.0.1');
});
afterEach(() => server.close());

async function get(query: string): Promise<{ status: number; body: unknown }> {
  const headers = { host: '127.0.0.1:8080' };
  const response = await server.inject({ url: `/api/v1/alarms/performance${query}`, headers });
  return { status: response.statusCode, body: response.json() };
}

it('is about the last 30 days and one position unless asked otherwise', async () => {
  const { status, body } = await get('');
  expect(status).toBe(200);
  const found = performanceBody.strict().parse(body);
  expect(found).toMatchObject({ positions: 1, time_zone: 'Europe/London', alarms: 10 });
  expect(Date.parse(found.to) - Date.parse(found.from)).toBe(30 * 86_400_000);
  expect(Date.parse(found.to)).toBe(NOW);
  expect(found.shelved).toMatchObject([{ why: 'filter is being fitted' }]);
});

it('has each figure with the published one and its source, or says that none is known', async () => {
  const { figures } = performanceBody.parse((await get('?positions=2')).body);
  const mean = figures.find(({ name }) => name === 'per-hour-mean');
  expect(mean).toMatchObject({ value: 2.5, verdict: 'within', published: { acceptable: 6, most: 12 } });
  expect(figures.find(({ name }) => name === 'per-day-mean')?.value).toBeNull();
  for (const { published } of figures) if (published !== null) expect(published.source).not.toBe('');
});

it.each([
  ['?positions=0', 'positions'],
  ['?positions=many', 'positions'],
  ['?from=2026-03-02T00:00:00Z&to=2026-03-01T00:00:00Z', 'from'],
  ['?motor=pump-1', 'motor'],
])('%s is refused', async (query, named) => {
  const { status, body } = await get(query);
  expect(status).toBe(400);
  expect(JSON.stringify(body)).toContain(named);
});

it('is described, and does not hide an alarm of that address', async () => {
  const headers = { host: '127.0.0.1:8080' };
  const document = (await server.inject({ url: '/api/v1/openapi.json', headers })).json<{
    paths: Record<string, unknown>;
  }>();
  expect(document.paths['/api/v1/alarms/performance']).toBeDefined();
});
