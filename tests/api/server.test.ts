import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import {
  alarmsBody,
  ledgerBody,
  motorsBody,
  problemBody,
  rollupsBody,
  transientsBody,
} from '../../src/api/bodies.js';
import { buildServer, ListenRefusal, startServer } from '../../src/api/server.js';
import { alarm, type FakeGateway, makeFakeGateway, NOW, rate } from './fake-gateway.js';

const HOST = { host: '127.0.0.1:8080' };
let gateway: FakeGateway;
let server: FastifyInstance;

beforeEach(() => {
  gateway = makeFakeGateway();
  server = buildServer(gateway, '127.0.0.1');
});
afterEach(() => server.close());

async function get(url: string): Promise<{ status: number; body: unknown; type: string }> {
  const response = await server.inject({ url, headers: HOST });
  const type = String(response.headers['content-type']);
  return { status: response.statusCode, body: type.includes('json') ? response.json() : response.body, type };
}

async function post(url: string, payload: unknown, headers: Record<string, string> = {}) {
  return server.inject({
    method: 'POST',
    url,
    headers: { ...HOST, 'content-type': 'application/json', ...headers },
    payload: typeof payload === 'string' ? payload : JSON.stringify(payload),
  });
}

describe('state', () => {
  it('shows a motor with run state, rate with limits, last transient and open alarms', async () => {
    gateway.emit({ kind: 'rate', rate });
    const { status, body } = await get('/api/v1/motors');
    expect(status).toBe(200);
    const { site, zone, motors } = motorsBody.parse(body);
    expect([site, zone]).toEqual(['plant-a', 'Europe/London']);
    const motor = motors[0];
    expect(motor).toMatchObject({ motor: 'pump-1', run_state: 'running', modulating: true, open_alarms: 1 });
    expect(motor?.last_transient?.pulses).toBe(41);
    expect(motor?.sensors[0]).toMatchObject({
      device: 'SN-0412',
      last_reading_at: new Date(NOW - 4_000).toISOString(),
    });
    expect(motor?.sensors[0]?.rate).toMatchObject({ rate_per_min: 90, lower_per_min: 84, upper_per_min: 96 });
  });

  it('a heartbeat missed three times makes the run state unknown, never stopped', async () => {
    gateway.clock = NOW + 120_000;
    const { motors } = motorsBody.parse((await get('/api/v1/motors')).body);
    const beats = gateway.plan().motors.get('pump-1')!.heartbeatMs!;
    const knownTo = new Date(NOW - 5_000 + 3 * beats).toISOString();
    expect(motors[0]).toMatchObject({ run_state: 'unknown', modulating: false, since: knownTo });
  });

  it('a drive whose reporter went absent is unknown from then on, however lately it said something', async () => {
    const [said] = await gateway.reader.drives();
    gateway.reader.drives = () => Promise.resolve([{ ...said!, absentFrom: NOW - 2_000 }]);
    const { motors } = motorsBody.parse((await get('/api/v1/motors')).body);
    const since = new Date(NOW - 2_000).toISOString();
    expect(motors[0]).toMatchObject({ run_state: 'unknown', modulating: false, since });
  });

  it('shows alarms with evidence and what to do', async () => {
    const { alarms, flood } = alarmsBody.parse((await get('/api/v1/alarms?state=open')).body);
    expect(flood).toEqual({ since: new Date(NOW - 300_000).toISOString() });
    expect(alarms[0]).toMatchObject({ id: alarm.id, action: 'Take a grease sample.' });
    expect(alarms[0]?.evidence?.says).toContain('above the setpoint of 60');
  });
});

describe('history', () => {
  it('a sensor that never was has no ledger, not one that balances', async () => {
    const { status, body } = await get('/api/v1/ledger?sensor=pump-1/xx');
    expect(status).toBe(404);
    expect(problemBody.parse(body).detail).toContain('"pump-1/xx"');
  });

  it('comes in pages joined by a cursor', async () => {
    const starts: string[] = [];
    let cursor = '';
    for (let page = 0; page < 5; page += 1) {
      const body = rollupsBody.parse((await get(`/api/v1/rollups?limit=2${cursor}`)).body);
      starts.push(...body.rollups.map((row) => row.start));
      if (body.next === null) break;
      cursor = `&cursor=${body.next}`;
    }
    expect(starts).toHaveLength(5);
    expect(new Set(starts).size).toBe(5);
  });

  it('no running exposure is no rate, not a rate of zero', async () => {
    const { rollups } = rollupsBody.parse((await get('/api/v1/rollups')).body);
    expect(rollups.map((row) => row.rate_per_min)).toEqual([90, 90, null, 90, 90]);
  });

  it('transients and the ledger have the documented bodies', async () => {
    expect(
      transientsBody.parse((await get('/api/v1/transients?motor=pump-1')).body).transients[0]?.kind,
    ).toBe('start');
    expect(ledgerBody.parse((await get('/api/v1/ledger')).body).balanced).toBe(true);
  });

  it.each(['/api/v1/sensors', '/api/v1/journal', '/api/v1/diagnostics', '/api/v1/quarantine'])(
    '%s answers',
    async (url) => {
      expect((await get(url)).status).toBe(200);
    },
  );
});

describe('errors', () => {
  it.each([
    ['/api/v1/rollups?limit=0', 'limit', 400],
    ['/api/v1/rollups?limit=many', 'limit', 400],
    ['/api/v1/rollups?period=2m', 'period', 400],
    ['/api/v1/rollups?from=yesterday', 'from', 400],
    ['/api/v1/rollups?from=2026-02-30T00:00:00Z', 'from', 400],
    ['/api/v1/rollups?from=2026-02-03T00:00:00', 'from', 400],
    ['/api/v1/rollups?sensor=Pump', 'sensor', 400],
    ['/api/v1/rollups?sensr=pump-1/de', 'a parameter', 400],
  ])('%s names the fault and what it takes', async (url, name, status) => {
    const answer = await get(url);
    expect(answer.status).toBe(status);
    expect(answer.type).toContain('application/problem+json');
    const problem = problemBody.parse(answer.body);
    expect(problem.faults?.[0]?.name).toBe(name);
    expect(problem.hint).toContain('It takes:');
  });

  it('an unknown address points to the description', async () => {
    const { status, body } = await get('/api/v1/motor');
    expect(status).toBe(404);
    expect(problemBody.parse(body).hint).toContain('/api/v1/openapi.json');
  });

  it('a fault of ours is logged and tells nothing of the inside', async () => {
    gateway.failReads = true;
    const { status, body } = await get('/api/v1/motors');
    expect(status).toBe(500);
    expect(JSON.stringify(body)).not.toContain('secret');
    expect(gateway.faults).toHaveLength(1);
  });
});

describe('acknowledging', () => {
  const url = `/api/v1/alarms/${alarm.id}/acknowledge`;

  it('records who and note, once', async () => {
    const first = await post(url, { who: 'A. Operator', note: 'seen' });
    expect(first.statusCode).toBe(200);
    expect(first.json()).toMatchObject({ state: 'acknowledged', acknowledged_by: 'A. Operator' });
    expect(gateway.acts).toEqual(['acknowledge A. Operator: seen']);
    expect((await post(url, { who: 'B' })).statusCode).toBe(409);
  });

  it('needs a name', async () => {
    const response = await post(url, { note: 'seen' });
    expect(response.statusCode).toBe(400);
    expect(problemBody.parse(response.json()).faults?.[0]?.name).toBe('who');
  });

  it('of an alarm that does not exist is 404', async () => {
    expect((await post('/api/v1/alarms/pump-9.de-rate-high/acknowledge', { who: 'A' })).statusCode).toBe(404);
  });

  it('accepts JSON only, and no foreign page', async () => {
    expect(
      (await post(url, 'who=A', { 'content-type': 'application/x-www-form-urlencoded' })).statusCode,
    ).toBe(415);
    expect((await post(url, 'who=A', { 'content-type': 'text/plain' })).statusCode).toBe(415);
    expect((await post(url, { who: 'A' }, { origin: 'https://elsewhere.example' })).statusCode).toBe(403);
    expect((await post(url, '{"who":')).statusCode).toBe(400);
    expect((await post(url, { who: 'A', note: 'x'.repeat(20_000) })).statusCode).toBe(413);
    expect(gateway.acts).toEqual([]);
  });
});

describe('access', () => {
  it('a request for a foreign host is refused', async () => {
    const response = await server.inject({ url: '/api/v1/motors', headers: { host: 'rebound.example' } });
    expect(response.statusCode).toBe(403);
    expect(problemBody.parse(response.json()).detail).toContain('rebound.example');
  });

  it.each(['localhost:1', '127.0.0.1', '[::1]:8080'])('host %s is accepted', async (host) => {
    expect((await server.inject({ url: '/live', headers: { host } })).statusCode).toBe(200);
  });

  it('does not listen beyond loopback', async () => {
    await expect(startServer(gateway, '0.0.0.0', 0)).rejects.toBeInstanceOf(ListenRefusal);
  });

  it('backups want an absolute path and pass on what went wrong', async () => {
    expect((await post('/api/v1/backups', { path: 'here.db' })).statusCode).toBe(400);
    expect((await post('/api/v1/backups', { path: '/b/ok.db' })).json()).toEqual({
      path: '/b/ok.db',
      bytes: 4096,
    });
    expect((await post('/api/v1/backups', { path: '/b/taken.db' })).statusCode).toBe(409);
    const full = await post('/api/v1/backups', { path: '/full/x.db' });
    expect(full.statusCode).toBe(500);
    expect(problemBody.parse(full.json())).toMatchObject({
      detail: 'No space is left.',
      hint: 'Free some space.',
    });
  });
});

describe('probes and documents', () => {
  it('neither probe is answered for a gateway that does not answer itself', async () => {
    expect(await get('/live')).toMatchObject({ status: 200, body: { live: true } });
    gateway.standing = () => Promise.reject(new Error('the gateway does not answer'));
    expect(await get('/live')).toMatchObject({ status: 503, body: { live: false } });
    expect(await get('/ready')).toMatchObject({
      status: 503,
      body: { ready: false, reasons: ['the gateway does not answer'] },
    });
  });

  it('ready fails with its reasons', async () => {
    expect((await get('/ready')).body).toEqual({ ready: true, reasons: [] });
    gateway.reasons = ['no commit for 30 s'];
    expect(await get('/ready')).toMatchObject({
      status: 503,
      body: { ready: false, reasons: ['no commit for 30 s'] },
    });
  });

  it('metrics end as OpenMetrics demands', async () => {
    const { body, type } = await get('/metrics');
    expect(type).toContain('application/openmetrics-text');
    expect(body).toContain('tallypost_readings_total{sensor="a\\"b"} 7\n');
    expect(String(body).endsWith('# EOF\n')).toBe(true);
  });

  it('the OpenAPI document describes every route', async () => {
    const { body } = await get('/api/v1/openapi.json');
    const { openapi, paths } = body as { openapi: string; paths: Record<string, unknown> };
    expect(openapi).toBe('3.1.0');
    expect(Object.keys(paths)).toEqual(
      expect.arrayContaining([
        '/live',
        '/ready',
        '/metrics',
        '/api/v1/motors',
        '/api/v1/alarms/{id}/acknowledge',
        '/api/v1/live',
      ]),
    );
  });
});

describe('the live stream', () => {
  it('sends what is committed, until the reader leaves', async () => {
    const { port, close } = await startServer(gateway, '127.0.0.1', 0);
    const abort = new AbortController();
    const response = await fetch(`http://127.0.0.1:${port}/api/v1/live`, { signal: abort.signal });
    expect(response.headers.get('content-type')).toContain('text/event-stream');
    const reader = response.body?.getReader();
    let text = '';
    const decoder = new TextDecoder();
    const sending = setInterval(() => gateway.emit({ kind: 'alarm', alarm }), 20);
    while (!text.includes('event: alarm')) {
      const piece = await reader?.read();
      if (piece === undefined || piece.done) break;
      text += decoder.decode(piece.value);
    }
    clearInterval(sending);
    expect(text).toContain('retry: 2000');
    expect(text).toContain('"says":"900 pulses');
    abort.abort();
    await close();
  });
});
