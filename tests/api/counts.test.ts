/** Counts over a set time over HTTP: of the past at once, live ones when their time is over and classified. */
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { countSchema, liveCountSchema } from '../../shared/counts.js';
import { problemBody } from '../../src/api/bodies.js';
import { buildServer } from '../../src/api/server.js';
import { fakeReadings } from './fake-counts.js';
import { type FakeGateway, makeFakeGateway, NOW } from './fake-gateway.js';

const HOST = { host: '127.0.0.1:8080' };
let gateway: FakeGateway;
let server: FastifyInstance;
beforeEach(() => {
  gateway = makeFakeGateway();
  server = buildServer(gateway, '127.0.0.1');
  fakeReadings.until = NOW;
});
afterEach(() => server.close());

async function get(url: string) {
  const response = await server.inject({ url, headers: HOST });
  return { status: response.statusCode, body: response.json<unknown>() };
}

async function start(body: object) {
  const headers = { ...HOST, 'content-type': 'application/json' };
  const response = await server.inject({ method: 'POST', url: '/api/v1/counts', headers, payload: body });
  return { status: response.statusCode, body: response.json<unknown>() };
}

describe('a count of the past', () => {
  it('has what was asked, what is covered, classes, run state, condition and rate', async () => {
    const url = `/api/v1/counts?sensor=pump-1/de&from=${NOW - 120_000}&to=${NOW - 60_000}`;
    const { status, body } = await get(url);
    expect(status).toBe(200);
    expect(countSchema.parse(body)).toMatchObject({
      ...{ sensor: 'pump-1/de', pulses: 90, increments: 6, settled: true, pending_pulses: 0 },
      asked: { from: new Date(NOW - 120_000).toISOString(), ms: 60_000 },
      covered: { from: new Date(NOW - 125_000).toISOString(), ms: 60_000 },
      classes: { running: { pulses: 90, ms: 60_000 } },
      run_states: [{ state: 'running', modulating: true }],
      condition: { speed_rpm: { min: 1480, mean: 1480, max: 1480, known_ms: 60_000 }, load_pct: null },
      ...{ rate_per_min: 90, quality: 'uncertain' },
    });
  });

  it.each([
    ['sensor=pump-1/de&from=5', 400, 'to'],
    ['from=5&to=9', 400, 'sensor'],
    ['sensor=pump-1/de&from=9&to=9', 400, 'to'],
    [`sensor=pump-1/de&from=0&to=${8 * 86_400_000}`, 400, 'to'],
    ['sensor=pump-1/nde&from=5&to=9', 404, undefined],
  ])('%s is refused: %i %s', async (query, status, name) => {
    const answer = await get(`/api/v1/counts?${query}`);
    expect(answer.status).toBe(status);
    expect(problemBody.parse(answer.body).faults?.[0]?.name).toBe(name);
  });
});

describe('a live count', () => {
  async function ask(id: string) {
    return liveCountSchema.parse((await get(`/api/v1/counts/${id}`)).body);
  }

  it('is answered at once, tells how far it is, settles, and keeps its result', async () => {
    const first = liveCountSchema.parse((await start({ sensor: 'pump-1/de' })).body);
    expect(first).toMatchObject({ state: 'counting', progress: 0, result: null });
    expect(Date.parse(first.to) - Date.parse(first.from)).toBe(60_000);
    gateway.clock = NOW + 45_000;
    fakeReadings.until = NOW + 45_000;
    expect(await ask(first.id)).toMatchObject({ state: 'counting', progress: 0.75, result: null });
    gateway.clock = NOW + 61_000;
    fakeReadings.until = NOW + 55_000;
    expect(await ask(first.id)).toMatchObject({ state: 'settling', progress: 1, result: null });
    fakeReadings.until = NOW + 65_000;
    const done = await ask(first.id);
    expect(done).toMatchObject({ state: 'done', result: { pulses: 90, settled: true } });
    fakeReadings.until = NOW;
    expect(await ask(first.id)).toEqual(done);
  });

  it('whose last readings never come ends with what there is, and says so', async () => {
    const { id } = liveCountSchema.parse((await start({ sensor: 'pump-1/de', for_ms: 10_000 })).body);
    gateway.clock = NOW + 189_000;
    expect((await ask(id)).state).toBe('settling');
    gateway.clock = NOW + 191_000;
    expect(await ask(id)).toMatchObject({ state: 'incomplete', result: { settled: false, covered: null } });
    fakeReadings.until = NOW + 300_000;
    expect(await ask(id)).toMatchObject({ state: 'done', result: { pulses: 15 } });
  });

  it('is one of 16 at once at most; one that is over makes room', async () => {
    for (let i = 0; i < 16; i++) expect((await start({ sensor: 'pump-1/de' })).status).toBe(200);
    const refused = await start({ sensor: 'pump-1/de' });
    expect([refused.status, problemBody.parse(refused.body).detail]).toEqual([
      503,
      '16 counts go on already.',
    ]);
    gateway.clock = NOW + 60_000;
    expect((await start({ sensor: 'pump-1/de' })).status).toBe(200);
  });

  it('of long ago is forgotten, one that never was is not found', async () => {
    const { id } = liveCountSchema.parse((await start({ sensor: 'pump-1/de', for_ms: 10_000 })).body);
    for (let i = 1; i <= 100; i++) {
      gateway.clock = NOW + i * 10_000;
      expect((await start({ sensor: 'pump-1/de', for_ms: 10_000 })).status).toBe(200);
    }
    const { status, body } = await get(`/api/v1/counts/${id}`);
    expect([status, problemBody.parse(body).hint]).toEqual([404, expect.stringContaining('/api/v1/counts')]);
    expect((await get('/api/v1/counts/abc-1')).status).toBe(404);
    expect((await get('/api/v1/counts/abc')).status).toBe(400);
  });

  it.each([
    [{ sensor: 'pump-1/de', for_ms: 9_999 }, 400],
    [{ sensor: 'pump-1/de', for_ms: 600_001 }, 400],
    [{ sensor: 'pump-1' }, 400],
    [{ sensor: 'pump-1/nde' }, 404],
    [{ sensor: 'pump-1/de', until: 5 }, 400],
  ])('%j is refused: %i', async (body, status) => {
    expect((await start(body)).status).toBe(status);
  });
});
