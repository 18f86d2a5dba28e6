/** The chain of a sensor over HTTP, link by link, with who else sends. */
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { DiagnosticRow } from '../../src/api/deps.js';
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

const diagnostic = (kind: string, lastAt: number): DiagnosticRow => ({
  ...{ subject: 'pump-1/de', kind, count: 1, firstAt: lastAt, lastAt },
  detail: "the device's time is 60 min behind the gateway's",
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

  it('a login that tries another topic has most often a wrong one: the sensor that it is for says so', async () => {
    gateway.wiring.arrivalsNow = [];
    const rule = 'the device pump-1-de may publish reading and presence of pump-1/de below plant-a/in/ only';
    const denial = { client: 'c', login: 'pump-1-de', count: 4, firstAt: NOW - 9_000, lastAt: NOW - 500 };
    const tried = 'plant-a/in/pump1/de/reading';
    gateway.station.denied = [{ kind: 'denied-publish', topic: tried, rule, ...denial }];
    gateway.clock = NOW + 300_000;
    const sensor = await trace();
    expect(sensor.broken).toBe('authorised');
    expect(sensor.chain[0]).toMatchObject({ state: 'unknown' });
    expect(sensor.chain[1]?.says).toContain(`turned away from ${tried}`);
    expect(sensor.chain[1]?.todo).toContain(TOPIC);
  });

  it('whoever else is turned away from its topic is remembered, and breaks nothing while its readings come', async () => {
    const denial = { client: 'c', login: 'other', count: 4, firstAt: NOW - 9_000, lastAt: NOW };
    gateway.station.denied = [{ kind: 'denied-publish', topic: TOPIC, rule: 'it may not', ...denial }];
    const sensor = await trace();
    expect(sensor.broken).toBeNull();
    expect(sensor.chain[1]).toMatchObject({
      state: 'ok',
      fault: 'the client "c" was turned away: it may not',
    });
  });

  it('a sensor that no login may publish for never comes through', async () => {
    gateway.wiring.arrivalsNow = [];
    gateway.station.contacts = () =>
      Promise.resolve({ heard: [], denied: [], logins: new Map([['x', ['elsewhere']]]) });
    expect((await trace()).broken).toBe('authorised');
    expect((await trace()).chain[1]?.todo).toContain('mqtt.users');
  });

  it('a clock that was put right breaks nothing any more, and is remembered', async () => {
    const { arrivalsNow } = gateway.wiring;
    gateway.wiring.arrivalsNow = [{ ...arrivalsNow[0]!, lastReadingAt: NOW - 3_600_000 }];
    const off = diagnostic('clock-off', NOW - 60_000);
    gateway.reader.diagnostics = () => Promise.resolve([off]);
    gateway.wiring.refusedNow = [{ ...refusal(TOPIC, 'payload: expected JSON'), lastAt: NOW - 1_800_000 }];
    // by its own time the last reading is older than what could not be read: what came since shows that it can
    expect((await trace()).broken).toBe('plausible');
    gateway.reader.diagnostics = () => Promise.resolve([off, diagnostic('clock-right', NOW - 30_000)]);
    gateway.wiring.arrivalsNow = arrivalsNow;
    const { broken, chain } = await trace();
    expect(broken).toBeNull();
    expect(chain[3]?.fault).toContain('the clock of the device was wrong');
  });

  it('a clock that was put right before anybody wrote that down breaks nothing', async () => {
    const off = diagnostic('clock-off', NOW - 86_400_000);
    gateway.reader.diagnostics = () => Promise.resolve([off]);
    const told = async (isClockOff: boolean | null): Promise<string | null> => {
      gateway.wiring.arrivalsNow = [{ ...gateway.wiring.arrivalsNow[0]!, isClockOff }];
      return (await trace()).broken;
    };
    expect(await told(true)).toBe('plausible');
    expect(await told(null)).toBe('plausible');
    expect(await told(false)).toBeNull();
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
    expect(sensor.chain[5]?.says).toContain('90 % of the last ten minutes');
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
