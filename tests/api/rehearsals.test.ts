/** Rehearsals over HTTP: begun, watched, cancelled, refused with what to do. */
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { problemBody } from '../../src/api/bodies.js';
import {
  candidateBody,
  CANDIDATE_CHARACTERS_MOST,
  rehearsalBody,
  rehearsalsBody,
  settingsBody,
} from '../../src/api/rehearsal-bodies.js';
import { buildServer } from '../../src/api/server.js';
import { makeFakeGateway } from './fake-gateway.js';
import { makeFakeRehearsals } from './fake-rehearsals.js';

const HOST = { host: '127.0.0.1:8080' };
const URL = '/api/v1/rehearsals';
let server: FastifyInstance;
beforeEach(() => {
  server = buildServer(makeFakeGateway(), '127.0.0.1');
});
afterEach(() => server.close());

async function ask(method: 'GET' | 'POST' | 'DELETE', url: string, payload?: object, more = {}) {
  const response = await server.inject({
    ...{ method, url, headers: { ...HOST, ...(payload && { 'content-type': 'application/json' }), ...more } },
    ...(payload === undefined ? {} : { payload: JSON.stringify(payload) }),
  });
  return { status: response.statusCode, body: response.json<unknown>() };
}

it('is begun, watched and cancelled; there is one at a time', async () => {
  const begun = await ask('POST', URL, { configuration: 'site: a', from: Date.UTC(2026, 2, 1) });
  expect(begun.status).toBe(200);
  expect(rehearsalBody.parse(begun.body)).toMatchObject({ id: '1', state: 'running', ended_at: null });
  const second = await ask('POST', URL, { configuration: 'site: a' });
  expect(second.status).toBe(409);
  expect(problemBody.parse(second.body).hint).toContain('DELETE /api/v1/rehearsals/1');
  expect(rehearsalBody.parse((await ask('GET', `${URL}/1`)).body).share).toBe(0.25);
  expect(rehearsalBody.parse((await ask('DELETE', `${URL}/1`)).body).state).toBe('cancelled');
  const { rehearsals } = rehearsalsBody.parse((await ask('GET', URL)).body);
  expect(rehearsals.map(({ id, state }) => [id, state])).toEqual([['1', 'cancelled']]);
});

it('refuses a candidate that is not valid, and one that changes more than alarms, with what to do', async () => {
  const bad = await ask('POST', URL, { configuration: 'bad' });
  expect(bad.status).toBe(400);
  expect(problemBody.parse(bad.body)).toMatchObject({
    faults: [{ name: 'configuration', fault: 'candidate:1:1: expected motors' }],
    hint: 'Try the file with tallypost check.',
  });
  const gate = await ask('POST', URL, { configuration: 'gate: {}' });
  expect(problemBody.parse(gate.body).hint).toContain('change only alarms, alarmBudget and baseline');
});

it('takes changes instead of a text, and writes them into the file as it is', async () => {
  const texts = ['site: a\n'];
  const begun: string[] = [];
  const fake = makeFakeRehearsals(texts);
  const rehearsals: typeof fake = { ...fake, begin: (wish) => (begun.push(wish.text), fake.begin(wish)) };
  const gateway = { ...makeFakeGateway(), rehearsals };
  const own = buildServer(gateway, '127.0.0.1');
  const post = (payload: object) =>
    own.inject({
      method: 'POST',
      url: URL,
      headers: { ...HOST, 'content-type': 'application/json' },
      payload,
    });
  const changes = [{ motor: 'pump-1', kind: 'rate-high', setpoint_per_min: 7, on_delay_ms: 60_000 }];
  expect((await post({ changes })).statusCode).toBe(200);
  expect(begun[0]).toContain('"setpointPerMin":7');
  expect(begun[0]).toContain('"onDelayMs":60000');
  const nobody = await post({ configuration: 'site: a', changes: [{ ...changes[0], motor: 'nobody' }] });
  expect(problemBody.parse(nobody.json()).faults).toEqual([
    { name: 'changes', fault: 'The file has no motor "nobody".' },
  ]);
  expect((await post({})).statusCode).toBe(400);
  expect((await post({ changes })).statusCode).toBe(404); // the file cannot be read any more
  const answer = await own.inject({ url: `${URL}/settings`, headers: HOST });
  expect(settingsBody.parse(answer.json()).settings[0]).toMatchObject({ motor: 'pump-1', kind: 'rate-high' });
  await own.close();
});

it.each([
  [{ configuration: 'site: a', from: 'yesterday' }, 'from: expected'],
  [{ configuration: 'site: a', from: '2', to: '1' }, 'must lie before'],
  [{ from: '1' }, 'configuration'],
  [{ configuration: 'site: a', until: '1' }, 'until'],
])('refuses %j', async (body, says) => {
  const { status, body: problem } = await ask('POST', URL, body);
  expect(status).toBe(400);
  expect(problemBody.parse(problem).detail).toContain(says);
});

it('takes a long candidate, and no longer one; other routes stay short', async () => {
  const long = await ask('POST', URL, { configuration: '#'.repeat(CANDIDATE_CHARACTERS_MOST) });
  expect(long.status).toBe(200);
  const longer = await ask('POST', URL, { configuration: '#'.repeat(CANDIDATE_CHARACTERS_MOST + 1) });
  expect(longer.status).toBe(400);
  const action = await ask('POST', '/api/v1/motors/pump-1/actions', { note: '#'.repeat(20_000) });
  expect(action.status).toBe(413);
});

it('one that is not there is not found', async () => {
  expect((await ask('GET', `${URL}/9`)).status).toBe(404);
  expect((await ask('DELETE', `${URL}/9`)).status).toBe(404);
});

it('a foreign page cannot cancel one', async () => {
  await ask('POST', URL, { configuration: 'site: a' });
  const { status } = await ask('DELETE', `${URL}/1`, undefined, { origin: 'http://elsewhere.example' });
  expect(status).toBe(403);
  expect(rehearsalBody.parse((await ask('GET', `${URL}/1`)).body).state).toBe('running');
});

it('gives the configuration file to begin with, and says what to do when it cannot be read', async () => {
  const own = buildServer(
    { ...makeFakeGateway(), rehearsals: makeFakeRehearsals(['site: a\n']) },
    '127.0.0.1',
  );
  const first = await own.inject({ url: `${URL}/candidate`, headers: HOST });
  expect(candidateBody.parse(first.json())).toEqual({ configuration: 'site: a\n' });
  const gone = await own.inject({ url: `${URL}/candidate`, headers: HOST });
  expect(gone.statusCode).toBe(404);
  expect(problemBody.parse(gone.json()).hint).toContain('choose it on your own machine');
});

it('the OpenAPI document has all four', async () => {
  const { paths } = (await ask('GET', '/api/v1/openapi.json')).body as { paths: Record<string, object> };
  expect(Object.keys(paths[URL]!).sort()).toEqual(['get', 'post']);
  expect(Object.keys(paths[`${URL}/{id}`]!).sort()).toEqual(['delete', 'get']);
});
