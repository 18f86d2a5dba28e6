/** Entries about motors over HTTP: what is taken, what is refused and how that is told. */
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { bearingLifeSchema } from '../../shared/bearing-life.js';
import { actionSchema, findingSchema } from '../../shared/maintenance.js';
import { actionsBody, findingsBody, problemBody } from '../../src/api/bodies.js';
import { buildServer } from '../../src/api/server.js';
import { type FakeGateway, makeFakeGateway, NOW } from './fake-gateway.js';

const HOST = { host: '127.0.0.1:8080' };
const ACTIONS = '/api/v1/motors/pump-1/actions';
const FINDINGS = '/api/v1/motors/pump-1/findings';
let gateway: FakeGateway;
let server: FastifyInstance;
beforeEach(() => {
  gateway = makeFakeGateway();
  server = buildServer(gateway, '127.0.0.1');
});
afterEach(() => server.close());

async function get(url: string): Promise<{ status: number; body: unknown }> {
  const response = await server.inject({ url, headers: HOST });
  return { status: response.statusCode, body: response.json() };
}

async function post(url: string, payload: object, headers: Record<string, string> = {}) {
  const response = await server.inject({
    ...{ method: 'POST', url, payload: JSON.stringify(payload) },
    headers: { ...HOST, 'content-type': 'application/json', ...headers },
  });
  return { status: response.statusCode, body: response.json<unknown>() };
}

describe('what was entered', () => {
  it('is listed with what it means, withdrawn entries marked', async () => {
    const { actions } = actionsBody.parse((await get(ACTIONS)).body);
    expect(actions[0]).toMatchObject({
      ...{ id: 1, action: 'bearing-replaced', end: 'de', bearing: 'hybrid', by: 'J. Field' },
      ...{ breaks_comparability: 'motor', is_remedy: true, withdrawn: null },
    });
    const { findings } = findingsBody.parse((await get(FINDINGS)).body);
    expect(findings[0]).toMatchObject({ removed: true, withdrawn: { by: 'K. Desk' } });
  });

  it('of a motor that never was is a mistake', async () => {
    const { status, body } = await get('/api/v1/motors/pump-9/actions');
    expect(status).toBe(404);
    expect(problemBody.parse(body).hint).toContain('/api/v1/motors');
  });
});

describe('an entry', () => {
  it('is handed on as it was written, and answered as it became durable', async () => {
    const entry = { action: 'bearing-replaced', end: 'de', bearing: 'hybrid', at: NOW - 5, by: ' J. Field ' };
    const { status, body } = await post(ACTIONS, entry);
    expect(status).toBe(200);
    expect(actionSchema.parse(body).id).toBe(1);
    expect(gateway.wishes).toEqual([
      { do: 'enter-action', motor: 'pump-1', entry: { ...entry, by: 'J. Field', note: '' } },
    ]);
    const found = await post(FINDINGS, { end: 'de', by: 'J. Field', signs: ['frosting'] });
    expect(findingSchema.parse(found.body).signs).toEqual(['frosting']);
  });

  it.each([
    [ACTIONS, { action: 'greased', by: 'J' }, 400, 'action'],
    [ACTIONS, { action: 'regreased' }, 400, 'by'],
    [ACTIONS, { action: 'bearing-replaced', by: 'J', bearing: 'same' }, 400, 'end'],
    [ACTIONS, { action: 'regreased', by: 'J', end: 'roof' }, 400, 'end'],
    [ACTIONS, { action: 'regreased', by: 'J', at: NOW + 1 }, 400, 'at'],
    [ACTIONS, { action: 'regreased', by: 'J', verdict: 'fluting' }, 400, 'the body'],
    [FINDINGS, { end: 'de', by: 'J' }, 400, 'modes'],
  ])('%s %j is refused: %i, %s', async (url, entry, status, name) => {
    const answer = await post(url, entry);
    expect(answer.status).toBe(status);
    const problem = problemBody.parse(answer.body);
    expect(problem.faults?.[0]?.name).toBe(name);
    expect(problem.hint).not.toBe('');
  });

  it('of a motor that never was is not found', async () => {
    const { status } = await post('/api/v1/motors/pump-9/actions', { action: 'regreased', by: 'J' });
    expect(status).toBe(404);
  });
});

describe('a withdrawal', () => {
  const why = { by: 'K. Desk', note: 'wrong motor' };
  it.each([
    [`${ACTIONS}/1/withdraw`, 200],
    [`${FINDINGS}/2/withdraw`, 409],
    [`${ACTIONS}/77/withdraw`, 404],
    [`${ACTIONS}/one/withdraw`, 400],
  ])('%s answers %i', async (url, status) => {
    expect((await post(url, why)).status).toBe(status);
  });

  it('without a reason is refused', async () => {
    expect((await post(`${ACTIONS}/1/withdraw`, { by: 'K. Desk' })).status).toBe(400);
    expect(gateway.wishes).toEqual([]);
  });
});

describe('the life of a bearing', () => {
  const LIFE = '/api/v1/motors/pump-1/bearing-life';

  it('has its fitting, its counts, its mean rate, and what was done and found', async () => {
    const { body } = await get(`${LIFE}?position=de`);
    expect(bearingLifeSchema.parse(body)).toMatchObject({
      ...{ motor: 'pump-1', position: 'de', fitted_by: 'replacement', bearing: 'hybrid', removed_at: null },
      ...{ running_hours: 0.5, running_pulses: 900, transient_pulses: 41, rate_per_min: 30, earlier: [] },
      actions: [{ id: 1 }],
    });
  });

  it.each([
    [`${LIFE}?position=nde`, 200],
    [`${LIFE}?position=roof`, 404],
    ['/api/v1/motors/pump-9/bearing-life?position=de', 404],
    [LIFE, 400],
  ])('%s answers %i', async (url, status) => {
    expect((await get(url)).status).toBe(status);
  });
});

describe('safety', () => {
  const entry = { action: 'regreased', by: 'J' };
  it.each([
    [{ origin: 'http://elsewhere.example' }, 403],
    [{ host: 'elsewhere.example' }, 403],
    [{ 'content-type': 'text/plain' }, 415],
  ])('with %j it enters nothing: %i', async (headers, status) => {
    expect((await post(ACTIONS, entry, headers)).status).toBe(status);
    expect(gateway.wishes).toEqual([]);
  });

  it('every address is described', async () => {
    const { paths } = (await get('/api/v1/openapi.json')).body as { paths: Record<string, object> };
    const own = Object.keys(paths).filter((path) => /actions|findings/.test(path));
    expect(own).toHaveLength(4);
    expect(Object.keys(paths['/api/v1/motors/{id}/actions'] ?? {})).toEqual(['get', 'post']);
  });
});
