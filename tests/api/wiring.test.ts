/** The chain of a sensor over HTTP, link by link, with who else sends. */
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { formatUtc } from '../../shared/time.js';
import { gatewayBody } from '../../src/api/gateway-bodies.js';
import { buildServer } from '../../src/api/server.js';
import { strangersBody, wiringBody, type WiringBody } from '../../src/api/wiring-bodies.js';
import { type FakeGateway, makeFakeGateway, NOW } from './fake-gateway.js';

const TOPIC = 'plant-a/in/pump-1/de/reading';
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

async function trace(): Promise<WiringBody['sensors'][number]> {
  return wiringBody.parse((await get('/api/v1/wiring')).body).sensors[0]!;
}

const stateOf = ({ chain }: WiringBody['sensors'][number]) =>
  Object.fromEntries(chain.map(({ link, state }) => [link, state]));

const refusal = (topic: string, reason: string, client = 'sensor-1') => ({
  ...{ topic, reason, client, count: 3, firstAt: NOW - 9_000, lastAt: NOW - 1_000 },
});

describe('the chain of a sensor', () => {
  it('holds from the field to the disk, and nobody is asked where no receiver is configured', async () => {
    const sensor = await trace();
    expect(sensor).toMatchObject({ sensor: 'pump-1/de', device: 'SN-0412', broken: null });
    expect(stateOf(sensor)).toEqual({
      ...{ seen: 'ok', authorised: 'ok', understood: 'ok', plausible: 'ok', 'run-state': 'ok' },
      ...{ classified: 'ok', stored: 'ok', forwarded: 'unknown' },
    });
  });

  it('breaks at the first link whose fault is newer than what came through, and the rest is not blamed', async () => {
    gateway.wiring.refusedNow = [refusal(TOPIC, 'payload: expected JSON')];
    const sensor = await trace();
    expect(sensor.broken).toBe('understood');
    expect(stateOf(sensor)).toMatchObject({
      understood: 'fault',
      plausible: 'unknown',
      classified: 'unknown',
    });
    expect(sensor.chain[2]?.says).toContain('payload: expected JSON');
    expect(sensor.chain[2]?.todo).not.toBe('');
  });

  it('names the rule that turned a publish away, and a login that fails', async () => {
    const denial = { client: 'sensor-1', count: 4, firstAt: NOW - 9_000, lastAt: NOW - 500 };
    const rule = 'the device other may publish reading and presence of pump-2/de below plant-a/in/ only';
    gateway.station.denied = [{ kind: 'denied-publish', topic: TOPIC, login: 'other', rule, ...denial }];
    expect((await trace()).chain[1]).toMatchObject({ link: 'authorised', state: 'fault' });
    expect((await trace()).chain[1]?.fault).toContain(rule);
    const login = { topic: '', login: 'pump-1-de', rule: 'unknown user name or wrong password' };
    gateway.station.denied = [{ kind: 'failed-login', ...login, ...denial }];
    expect((await trace()).broken).toBe('authorised');
    gateway.station.denied = [{ kind: 'failed-login', ...login, login: 'somebody', ...denial }];
    expect((await trace()).broken).toBeNull();
  });

  it('a sensor that fell silent is broken at its first link', async () => {
    gateway.clock = NOW + 600_000;
    const sensor = await trace();
    expect(sensor.broken).toBe('seen');
    expect(sensor.chain[0]?.says).toContain('10 min');
  });

  it('a sensor that never sent anything is broken, but not right after the start', async () => {
    gateway.wiring.arrivalsNow = [];
    gateway.station.contacts = () => Promise.resolve({ heard: [], denied: [], logins: new Map() });
    expect((await trace()).broken).toBe('seen');
    gateway.station.figuresNow = { ...gateway.station.figuresNow, startedAt: NOW - 1_000 };
    expect((await trace()).chain[0]?.state).toBe('unknown');
  });

  it('a drive whose reporter went away, and time that is unattributed, are told with what to do', async () => {
    gateway.clock = NOW + 120_000;
    gateway.wiring.arrivalsNow = [
      {
        ...gateway.wiring.arrivalsNow[0]!,
        ...{ lastReadingAt: NOW + 119_000, classifiedTo: NOW + 110_000 },
        ...{ ms: { running: 1_000, unattributed: 9_000 }, reason: 'unknown-run-state', reasonAt: NOW },
      },
    ];
    const sensor = await trace();
    expect(sensor.broken).toBe('run-state');
    expect(sensor.chain[5]).toMatchObject({ link: 'classified', state: 'fault' });
    expect(sensor.chain[5]?.says).toContain('90 % of the last hour');
    expect(sensor.chain[5]?.says).toContain('the run state was not known');
  });

  it('a gateway that stores nothing breaks the link of every sensor', async () => {
    gateway.reasons = ['the disk is full'];
    expect((await trace()).chain[6]).toMatchObject({ link: 'stored', state: 'fault' });
  });

  it('another motor is asked for by name', async () => {
    expect((await get('/api/v1/wiring?motor=pump-9')).status).toBe(404);
    expect((await get('/api/v1/wiring?cursor=!!')).status).toBe(400);
  });
});

describe('strangers', () => {
  it('come newest first with the rule, in pages; what was denied before a start comes from the quarantine', async () => {
    const denial = { client: 'c', login: 'x', rule: 'the reader x may publish nowhere', count: 1 };
    gateway.station.denied = [
      { kind: 'denied-publish', topic: 'a/b', ...denial, firstAt: NOW - 5, lastAt: NOW - 5 },
    ];
    gateway.wiring.refusedNow = [
      refusal('plant-a/in/pump-9/de/reading', 'unknown sensor pump-9/de: add it', 'lost'),
      { ...refusal('a/b', 'not authorised: the client may not publish to this topic', 'c') },
      { ...refusal('a/c', 'not authorised: the client may not publish to this topic'), lastAt: NOW - 2_000 },
    ];
    const first = strangersBody.parse((await get('/api/v1/strangers?limit=2')).body);
    expect(first.strangers.map(({ kind, topic }) => `${kind} ${topic}`)).toEqual([
      'denied-publish a/b',
      'unknown-sender plant-a/in/pump-9/de/reading',
    ]);
    const second = strangersBody.parse((await get(`/api/v1/strangers?cursor=${first.next}`)).body);
    expect(second).toMatchObject({ next: null, strangers: [{ topic: 'a/c' }] });
  });
});

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
    expect(configuration.says).toContain('differs from file in 1 settings');
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

  it('a clock that a person let go on is not trusted', async () => {
    gateway.station.figuresNow = { ...gateway.station.figuresNow, clockOffsetMs: 5_000 };
    const { clock } = gatewayBody.parse((await get('/api/v1/gateway')).body);
    expect(clock).toMatchObject({ trusted: false, in_doubt: false, offset_ms: 5_000 });
    // what it is asked with is the gateway's clock already
    expect(clock.now).toBe(formatUtc(gateway.clock));
    expect(clock.wall).toBe(formatUtc(gateway.clock - 5_000));
  });

  it('a clock that the gateway doubts waits for a person', async () => {
    gateway.reasons = ['the clock of this machine says 1970, 9 s before what is stored already: set it'];
    const { clock } = gatewayBody.parse((await get('/api/v1/gateway')).body);
    expect(clock).toMatchObject({ trusted: false, in_doubt: true, says: gateway.reasons[0] });
  });
});
