/** Users of the HTTP interface: roles, logins with each request and by session, limits, and what a screen on the wall sees. */
import { request } from 'node:https';
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { OPEN_ACCESS, type Access } from '../../src/api/access.js';
import { problemBody } from '../../src/api/bodies.js';
import { LoginDesk } from '../../src/api/login-desk.js';
import { hashPassword, matchesSecret } from '../../src/api/password-hash.js';
import { buildServer, startServer } from '../../src/api/server.js';
import { sessionBody } from '../../src/api/session-routes.js';
import { CERTIFICATE, CERTIFICATE_KEY } from '../support/certificate.js';
import { alarm, type FakeGateway, makeFakeGateway, NOW } from './fake-gateway.js';

const ACCESS: Access = {
  ...OPEN_ACCESS,
  metrics: 'login',
  users: [
    { name: 'wall', role: 'view', secret: 'look-only' },
    { name: 'op', role: 'operate', secret: 'op-secret' },
    { name: 'eng', role: 'engineer', secret: 'eng-secret' },
  ],
};
const basic = (name: string, password: string) =>
  `Basic ${Buffer.from(`${name}:${password}`, 'utf8').toString('base64')}`;
const AS = {
  wall: basic('wall', 'look-only'),
  op: basic('op', 'op-secret'),
  eng: basic('eng', 'eng-secret'),
} as const;

let gateway: FakeGateway;
let server: FastifyInstance;
let desk: LoginDesk;

function start(access: Access): void {
  gateway = makeFakeGateway();
  desk = new LoginDesk(access);
  server = buildServer(gateway, '127.0.0.1', access, desk);
}
beforeEach(() => start(ACCESS));
afterEach(() => server.close());

async function ask(method: 'GET' | 'POST' | 'DELETE', url: string, headers: object = {}, payload?: object) {
  const response = await server.inject({
    ...{ method, url },
    headers: {
      host: '127.0.0.1:8080',
      ...(payload === undefined ? {} : { 'content-type': 'application/json' }),
      ...headers,
    },
    ...(payload === undefined ? {} : { payload: JSON.stringify(payload) }),
  });
  return response;
}

const acknowledge = (headers: object, body: object) =>
  ask('POST', `/api/v1/alarms/${alarm.id}/acknowledge`, headers, body);

describe('without a login', () => {
  it('the probes, the page and the session answer, and nothing else does', async () => {
    for (const url of ['/live', '/ready', '/api/v1/session'])
      expect((await ask('GET', url)).statusCode).toBe(200);
    for (const url of [
      '/metrics',
      '/api/v1/motors',
      '/api/v1/live',
      '/api/v1/openapi.json',
      '/api/v1/nothing',
    ]) {
      const response = await ask('GET', url);
      expect([url, response.statusCode]).toEqual([url, 401]);
      expect(response.headers['www-authenticate']).toContain('Basic');
      expect(problemBody.parse(response.json()).hint).toContain('/api/v1/session');
    }
    expect((await acknowledge({}, { who: 'A', note: '' })).statusCode).toBe(401);
  });

  it('a browser is not made to open a window of its own', async () => {
    const response = await ask('GET', '/api/v1/motors', { 'sec-fetch-site': 'same-origin' });
    expect(response.headers['www-authenticate']).toBe('Session realm="tallypost"');
  });

  it('a screen on the wall reads what it shows, where the site has one, and changes nothing', async () => {
    expect((await ask('GET', '/api/v1/alarms')).statusCode).toBe(401);
    await server.close();
    start({ ...ACCESS, kiosk: true });
    for (const url of ['/api/v1/motors', '/api/v1/alarms'])
      expect((await ask('GET', url)).statusCode).toBe(200);
    expect((await ask('GET', '/api/v1/journal')).statusCode).toBe(401);
    expect((await acknowledge({}, { who: 'A' })).statusCode).toBe(401);
  });

  it('a screen on the wall is not told who did what to an alarm; whoever logs in is', async () => {
    await server.close();
    start({ ...ACCESS, kiosk: true });
    gateway.alarms = [
      { ...alarm, acknowledgedBy: 'M. Reed', note: 'called home', shelvedBy: 'K. Wren', shelvedWhy: 'leave' },
    ];
    const wall = (await ask('GET', '/api/v1/alarms')).body;
    for (const word of ['M. Reed', 'called home', 'K. Wren', 'leave']) expect(wall).not.toContain(word);
    expect(wall).toContain(alarm.id);
    expect((await ask('GET', '/api/v1/alarms', { authorization: AS.wall })).body).toContain('M. Reed');
  });
});

describe('roles', () => {
  it('view reads, operate acts, engineer does everything', async () => {
    const tries = [
      ['GET', '/api/v1/journal', undefined],
      ['POST', `/api/v1/alarms/${alarm.id}/acknowledge`, { note: '' }],
      ['POST', '/api/v1/backups', { path: '/tmp/copy.db' }],
    ] as const;
    const statuses: Record<string, number[]> = {};
    for (const [name, authorization] of Object.entries(AS)) {
      statuses[name] = [];
      for (const [method, url, body] of tries)
        statuses[name].push((await ask(method, url, { authorization }, body)).statusCode);
    }
    expect(statuses['wall']).toEqual([200, 403, 403]);
    expect(statuses['op']).toEqual([200, 200, 403]);
    // acknowledged already
    expect(statuses['eng']).toEqual([200, 409, 200]);
  });

  it('who acted is the login; another name is refused', async () => {
    const authorization = AS.op;
    const other = await acknowledge({ authorization }, { who: 'somebody', note: '' });
    expect(other.statusCode).toBe(400);
    expect(problemBody.parse(other.json()).faults?.[0]?.name).toBe('who');
    expect((await acknowledge({ authorization }, { note: 'seen' })).statusCode).toBe(200);
    expect(gateway.acts).toEqual(['acknowledge op: seen']);
    const entry = { action: 'regreased', note: 'x' };
    const entered = await ask('POST', '/api/v1/motors/pump-1/actions', { authorization }, entry);
    expect(entered.statusCode, entered.body).toBe(200);
    expect(gateway.wishes[0]).toMatchObject({ entry: { by: 'op' } });
  });
});

describe('a session of the page', () => {
  async function login(name = 'op', password = 'op-secret') {
    return ask('POST', '/api/v1/session', {}, { name, password });
  }

  it('begins with name and password, is known by its cookie, and ends', async () => {
    const response = await login();
    expect(sessionBody.parse(response.json())).toMatchObject({
      login_needed: true,
      name: 'op',
      role: 'operate',
    });
    const header = String(response.headers['set-cookie']);
    expect(header).toMatch(
      /^tallypost_session=[\w-]{43}; Path=\/; HttpOnly; SameSite=Strict; Max-Age=43200$/,
    );
    const cookie = header.split(';')[0]!;
    expect((await ask('GET', '/api/v1/motors', { cookie })).statusCode).toBe(200);
    expect(sessionBody.parse((await ask('GET', '/api/v1/session', { cookie })).json()).name).toBe('op');
    expect((await ask('DELETE', '/api/v1/session', { cookie })).statusCode).toBe(200);
    expect((await ask('GET', '/api/v1/motors', { cookie })).statusCode).toBe(401);
  });

  it('ends after its time, and when its user is gone or changed', async () => {
    const cookie = String((await login()).headers['set-cookie']).split(';')[0]!;
    desk.changeUsers(ACCESS.users);
    expect((await ask('GET', '/api/v1/motors', { cookie })).statusCode).toBe(200);
    gateway.clock = NOW + 43_200_001;
    expect((await ask('GET', '/api/v1/motors', { cookie })).statusCode).toBe(401);
    gateway.clock = NOW;
    const second = String((await login()).headers['set-cookie']).split(';')[0]!;
    desk.changeUsers([{ name: 'op', role: 'view', secret: 'op-secret' }]);
    expect((await ask('GET', '/api/v1/motors', { cookie: second })).statusCode).toBe(401);
  });

  it('a page of somebody else changes nothing with it, on another port of this machine either', async () => {
    const cookie = String((await login()).headers['set-cookie']).split(';')[0]!;
    const foreign = [
      { origin: 'http://evil.example' },
      { origin: 'http://127.0.0.1:9999' },
      { 'sec-fetch-site': 'cross-site' },
      { origin: 'http://127.0.0.1:8080', 'sec-fetch-site': 'same-site' },
    ];
    for (const headers of foreign)
      expect((await acknowledge({ cookie, ...headers }, { note: '' })).statusCode).toBe(403);
    expect(gateway.acts).toEqual([]);
    const own = { cookie, origin: 'http://127.0.0.1:8080', 'sec-fetch-site': 'same-origin' };
    expect((await acknowledge(own, { note: '' })).statusCode).toBe(200);
  });

  it('over TLS the cookie goes over TLS only, and users are asked for on any address', async () => {
    await server.close();
    gateway = makeFakeGateway();
    const tls = { cert: CERTIFICATE, key: CERTIFICATE_KEY };
    const started = await startServer(gateway, '0.0.0.0', 0, { ...ACCESS, tls });
    const body = JSON.stringify({ name: 'op', password: 'op-secret' });
    const cookie = await new Promise<string>((resolve, reject) => {
      const wishes = {
        ...{
          host: '127.0.0.1',
          port: started.port,
          path: '/api/v1/session',
          method: 'POST',
          ca: CERTIFICATE,
        },
        headers: { 'content-type': 'application/json', 'content-length': body.length },
      };
      const outgoing = request(wishes, (response) => {
        response.resume();
        resolve(String(response.headers['set-cookie']));
      });
      outgoing.once('error', reject);
      outgoing.end(body);
    });
    await started.close();
    expect(cookie).toContain('; Secure');
  });
});

describe('passwords', () => {
  it('wrong ones are refused alike for known and unknown names, and after ten of them nobody is asked', async () => {
    for (let i = 0; i < 10; i++) {
      const name = i % 2 === 0 ? 'op' : 'nobody';
      const response = await ask('POST', '/api/v1/session', {}, { name, password: 'guess' });
      expect([response.statusCode, problemBody.parse(response.json()).detail]).toEqual([
        401,
        'The name or the password is wrong.',
      ]);
    }
    const limited = await ask('POST', '/api/v1/session', {}, { name: 'op', password: 'op-secret' });
    expect(limited.statusCode).toBe(429);
    expect(Number(limited.headers['retry-after'])).toBeGreaterThan(200);
    gateway.clock = NOW + 300_001;
    expect((await ask('POST', '/api/v1/session', {}, { name: 'op', password: 'op-secret' })).statusCode).toBe(
      200,
    );
  });

  it('a program that was right before is not shut out by somebody who guesses', async () => {
    expect((await ask('GET', '/api/v1/motors', { authorization: AS.eng })).statusCode).toBe(200);
    for (let i = 0; i < 12; i++)
      await ask('GET', '/api/v1/motors', { authorization: basic('eng', `guess ${i}`) });
    expect((await ask('GET', '/api/v1/motors', { authorization: AS.eng })).statusCode).toBe(200);
    expect((await ask('GET', '/api/v1/motors', { authorization: AS.op })).statusCode).toBe(429);
  });

  it('may be kept hashed', async () => {
    const hash = await hashPassword('a long secret');
    expect(hash).toMatch(/^scrypt:15:8:3:/);
    expect(await matchesSecret('a long secret', hash)).toBe(true);
    expect(await matchesSecret('a long secrets', hash)).toBe(false);
    expect(await matchesSecret('scrypt', 'scrypt')).toBe(true);
    desk.changeUsers([{ name: 'op', role: 'operate', secret: hash }]);
    const right = { name: 'op', password: 'a long secret' };
    expect((await ask('POST', '/api/v1/session', {}, right)).statusCode).toBe(200);
    expect((await ask('POST', '/api/v1/session', {}, { name: 'no', password: 'x' })).statusCode).toBe(401);
  });
});
