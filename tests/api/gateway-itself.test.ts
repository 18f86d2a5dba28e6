/** The gateway itself over HTTP: its parts in words, its clock that a person lets go on, and what the file would change. */
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { formatUtc } from '../../shared/time.js';
import { gatewayBody } from '../../src/api/gateway-bodies.js';
import { buildServer } from '../../src/api/server.js';
import { alarm, type FakeGateway, makeFakeGateway, NOW } from './fake-gateway.js';

let gateway: FakeGateway;
let server: FastifyInstance;

beforeEach(() => {
  gateway = makeFakeGateway();
  server = buildServer(gateway, '127.0.0.1');
});
afterEach(() => server.close());

async function get(url: string) {
  const response = await server.inject({ url, headers: { host: '127.0.0.1:8080' } });
  return { status: response.statusCode, body: response.json<unknown>() };
}

describe('the gateway itself', () => {
  it('tells health, intake, balance, disk, clock and the configuration in force', async () => {
    const body = gatewayBody.parse((await get('/api/v1/gateway')).body);
    expect(body).toMatchObject({
      ...{ site: 'plant-a', version: '1.2.3', uptime_ms: 3_600_000 },
      health: { ready: true },
      ledger: { state: 'balanced', counted: 93 },
      storage: { database_bytes: 4096, says: 'there is room' },
      clock: { trusted: true, offset_ms: 0 },
      configuration: { state: 'same', revision: 'abc123' },
    });
  });

  it('says that it differs from the file, and what differs', async () => {
    gateway.station.configurationNow = {
      ...gateway.station.configurationNow,
      ...{ state: 'differs', fileRevision: 'def456' },
      changes: [{ path: 'site', before: '"plant-a"', after: '"plant-b"', needsRestart: true }],
    };
    const { configuration } = gatewayBody.parse((await get('/api/v1/gateway')).body);
    expect(configuration.says).toContain('differs from file in 1 setting');
    expect(configuration.changes).toEqual([
      { path: 'site', in_force: '"plant-a"', file: '"plant-b"', needs_restart: true },
    ]);
  });

  it('is not taken as balanced before it was proved, and names sensors that are not', async () => {
    gateway.station.proofNow = null;
    expect(gatewayBody.parse((await get('/api/v1/gateway')).body).ledger.state).toBe('not-proved');
    gateway.station.proofNow = { ...makeFakeGateway().station.proofNow!, unbalanced: ['pump-1/de'] };
    expect(gatewayBody.parse((await get('/api/v1/gateway')).body).ledger).toMatchObject({
      ...{ state: 'unbalanced', unbalanced: ['pump-1/de'] },
    });
  });

  it('says of each receiver what the file would change of it at the next start', async () => {
    const row = { state: 'working' as const, lastDeliveredAt: NOW, pending: 0, says: 'it takes what comes' };
    const past = { lastErrorAt: null, lastError: '' };
    gateway.station.sinks = () =>
      Promise.resolve(['line', 'plant', 'old'].map((sink) => ({ ...row, ...past, sink, kind: 'mqtt' })));
    const change = { before: '"a"', after: '"b"', needsRestart: true };
    gateway.station.configurationNow = {
      ...gateway.station.configurationNow,
      ...{ state: 'differs', fileRevision: 'def456' },
      changes: [
        { ...change, path: 'sinks.line.url' },
        { ...change, path: 'sinks.old.name', after: null },
        { ...change, path: 'sinks.fresh.name', before: null },
      ],
    };
    const body = gatewayBody.parse((await get('/api/v1/gateway')).body);
    expect(body.sinks.map(({ sink, file }) => [sink, file])).toEqual([
      ['line', 'differs'],
      ['plant', 'same'],
      ['old', 'gone'],
    ]);
    expect(body.sinks_at_next_start).toEqual(['fresh']);
    expect(body.configuration.says).toBe(
      'differs from file in 3 settings, taken over at the next start only',
    );
  });

  it('says of each server for PLC and HMI whether it listens, and who is connected', async () => {
    const row = { port: 1502, clients: 0, requests: 7, refused: 0, restarts: 0, fault: '' };
    gateway.station.plc = () =>
      Promise.resolve([
        { ...row, server: 'Modbus TCP', state: 'listening', clients: 2 },
        { ...row, server: 'OPC UA', state: 'waiting', port: null, fault: 'port 4840 is taken' },
      ]);
    const { plc } = gatewayBody.parse((await get('/api/v1/gateway')).body);
    expect(plc.map(({ says }) => says)).toEqual([
      'it listens on port 1502, 2 are connected',
      'it does not listen: port 4840 is taken',
    ]);
  });

  it('a clock that halts the gateway may be let go on, by somebody with a name, and only then', async () => {
    const post = async (body: object) => {
      const headers = { host: '127.0.0.1:8080', 'content-type': 'application/json' };
      const request = { method: 'POST' as const, url: '/api/v1/gateway/clock/go-on', headers };
      const response = await server.inject({ ...request, payload: JSON.stringify(body) });
      return { status: response.statusCode, body: response.json<{ reason?: string; trusted?: boolean }>() };
    };
    expect(await post({ who: 'J. Pipit' })).toMatchObject({ status: 409, body: { reason: 'not-halted' } });
    gateway.own = [{ ...alarm, id: 'gateway.clock-wrong', kind: 'clock-wrong' }];
    gateway.reasons = ['the clock of this machine says 1970'];
    const { clock } = gatewayBody.parse((await get('/api/v1/gateway')).body);
    expect(clock).toMatchObject({
      trusted: false,
      halted: true,
      says: 'the clock of this machine says 1970',
    });
    expect((await post({})).status).toBe(400);
    expect(await post({ who: 'J. Pipit' })).toMatchObject({ status: 200, body: { trusted: true } });
    expect(gateway.acts).toEqual(['clock J. Pipit']);
  });

  it('a clock that most devices doubt, and a person let pass, is told as such', async () => {
    const clockDoubt = 'the clock of this machine is 3600 s behind most devices';
    gateway.station.figuresNow = { ...gateway.station.figuresNow, clockDoubt };
    const { clock } = gatewayBody.parse((await get('/api/v1/gateway')).body);
    expect(clock).toMatchObject({ trusted: false, halted: false });
    expect(clock.says).toContain(clockDoubt);
  });

  it('a clock that a person let go on is not trusted', async () => {
    gateway.station.figuresNow = { ...gateway.station.figuresNow, clockOffsetMs: 5_000 };
    const { clock } = gatewayBody.parse((await get('/api/v1/gateway')).body);
    expect(clock).toMatchObject({ trusted: false, offset_ms: 5_000 });
    // what it is asked with is the gateway's clock already
    expect(clock.now).toBe(formatUtc(gateway.clock));
    expect(clock.wall).toBe(formatUtc(gateway.clock - 5_000));
  });
});
