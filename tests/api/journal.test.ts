import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { journalBody, journalProofBody } from '../../src/api/journal-bodies.js';
import { buildServer } from '../../src/api/server.js';
import { alarm, makeFakeGateway } from './fake-gateway.js';

let server: FastifyInstance;
beforeEach(() => {
  server = buildServer(makeFakeGateway(), '127.0.0.1');
});
afterEach(() => server.close());

async function get(url: string): Promise<{ status: number; body: unknown }> {
  const response = await server.inject({ url, headers: { host: '127.0.0.1:8080' } });
  return { status: response.statusCode, body: response.json() };
}

it('an entry has the body that MQTT has, with number and digest', async () => {
  const { journal } = journalBody.parse((await get('/api/v1/journal')).body);
  expect(journal).toMatchObject([{ id: 1, subject: alarm.id, what: 'raised', annunciated: true, who: '' }]);
  expect(journal[0]?.digest).toHaveLength(64);
});

it('narrows by subject; a word that is none is refused', async () => {
  const { journal } = journalBody.parse((await get('/api/v1/journal?subject=pump-9.x&what=raised')).body);
  expect(journal).toEqual([]);
  expect((await get('/api/v1/journal?kind=alarms')).status).toBe(400);
});

it('comes the newest first for who asks so, and a cursor of one order is none of the other', async () => {
  const gateway = makeFakeGateway();
  const [row] = (await gateway.reader.journal({ subject: null, limit: 9, cursor: null } as never)).items;
  const rows = [1, 2, 3].map((id) => ({ ...row!, id }));
  gateway.reader.journal = ({ order, limit, cursor }) => {
    const all = (order === 'newest' ? rows.toReversed() : rows).slice(Number(cursor ?? 0));
    const next = all.length > limit ? String(Number(cursor ?? 0) + limit) : null;
    return Promise.resolve({ items: all.slice(0, limit), next });
  };
  await server.close();
  server = buildServer(gateway, '127.0.0.1');
  const first = journalBody.parse((await get('/api/v1/journal?order=newest&limit=2')).body);
  expect(first.journal.map(({ id }) => id)).toEqual([3, 2]);
  const rest = `/api/v1/journal?limit=2&cursor=${first.next}`;
  expect((await get(`${rest}&order=newest`)).body).toMatchObject({ journal: [{ id: 1 }], next: null });
  expect((await get(rest)).status).toBe(400);
  expect((await get('/api/v1/journal?order=desc')).status).toBe(400);
});

it('is proved, against a digest too', async () => {
  const proof = journalProofBody.parse((await get('/api/v1/journal/verify')).body);
  expect(proof).toMatchObject({ intact: true, entries: 1, head: { id: 1 }, expected_id: null });
  const noted = await get(`/api/v1/journal/verify?expect=${'AB'.repeat(32)}`);
  expect(noted).toMatchObject({ status: 200, body: { expected_id: 1 } });
  expect((await get('/api/v1/journal/verify?expect=abc')).status).toBe(400);
});

it('is described', async () => {
  const { body } = await get('/api/v1/openapi.json');
  const { paths } = body as { paths: Record<string, unknown> };
  expect(paths['/api/v1/journal/verify']).toBeDefined();
});
