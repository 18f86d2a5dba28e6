/** How answers come: tags, CSV, methods, and refusals that say what to do, whoever makes them. */
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { gunzipSync } from 'node:zlib';
import { z } from 'zod';
import { problemBody } from '../../src/api/bodies.js';
import { chooseMedia } from '../../src/api/accepted-media.js';
import { findColumns, writeCsv } from '../../src/api/csv.js';
import { buildServer } from '../../src/api/server.js';
import { type FakeGateway, makeFakeGateway } from './fake-gateway.js';

let gateway: FakeGateway;
let server: FastifyInstance;

beforeEach(() => {
  gateway = makeFakeGateway();
  server = buildServer(gateway, '127.0.0.1');
});
afterEach(() => server.close());

type Method = 'GET' | 'POST' | 'DELETE' | 'PUT' | 'HEAD' | 'OPTIONS' | 'PATCH';

async function ask(method: Method, url: string, headers: object = {}, payload?: string) {
  return server.inject({
    ...{ method, url, headers: { host: '127.0.0.1:8080', ...headers } },
    ...(payload === undefined ? {} : { payload }),
  });
}

describe('a list as CSV', () => {
  const csv = { accept: 'text/csv' };

  it('has a row for each item, columns from the schema, and says where the next page is', async () => {
    const response = await ask('GET', '/api/v1/rollups?limit=2&period=1m', csv);
    expect(response.headers['content-type']).toBe('text/csv; charset=utf-8; header=present');
    const lines = response.body.split('\r\n');
    expect(lines).toHaveLength(4);
    expect(lines[0]?.split(',').slice(0, 6)).toEqual([
      ...['sensor', 'period', 'start', 'end', 'revision', 'classes.rejected.pulses'],
    ]);
    expect(lines[1]).toMatch(/^pump-1\/de,1m,/);
    expect(lines[3]).toBe('');
    const link = /^<(\/api\/v1\/rollups\?limit=2&period=1m&cursor=[\w-]+)>; rel="next"$/;
    const [, next = ''] = link.exec(String(response.headers['link'])) ?? [];
    const rest = (await ask('GET', next, csv)).body.split('\r\n');
    expect(rest[0]).toBe(lines[0]);
    expect(lines).not.toContain(rest[1]);
  });

  it('has the same columns on an empty page', async () => {
    const full = (await ask('GET', '/api/v1/alarms', csv)).body.split('\r\n')[0];
    gateway.alarms = [];
    expect((await ask('GET', '/api/v1/alarms', csv)).body).toBe(`${full}\r\n`);
  });

  it('every list can be had so, and what is no list is refused', async () => {
    const paths = [
      'motors',
      'sensors',
      'transients',
      'journal',
      'ledger',
      'diagnostics',
      'quarantine',
      'baselines',
    ];
    for (const path of [...paths, 'plan', 'rehearsals', 'commissioning', 'wiring', 'strangers']) {
      const response = await ask('GET', `/api/v1/${path}`, csv);
      expect([path, response.statusCode, response.headers['content-type']]).toEqual([
        ...[path, 200, 'text/csv; charset=utf-8; header=present'],
      ]);
    }
    const refused = await ask('GET', '/api/v1/gateway', csv);
    expect([refused.statusCode, problemBody.parse(refused.json()).hint]).toEqual([
      406,
      'Ask for application/json.',
    ]);
  });

  it('text that a spreadsheet would calculate is shown instead, and numbers stay numbers', () => {
    const row = z.object({
      name: z.string(),
      n: z.number(),
      inner: z.object({ a: z.string().nullable() }).nullable(),
    });
    const columns = findColumns(z.object({ rows: z.array(row) }), 'rows');
    const items = [
      { name: '=SUM(A1)', n: -5, inner: { a: '@x' } },
      { name: 'a "b", c\nd', n: 1e21, inner: null },
      ...['+1', '-1', '\t=1', '\r=1', '\n=1', '＝1'].map((name) => ({ name, n: -0.5, inner: null })),
    ];
    expect(writeCsv(columns, items)).toBe(
      'name,n,inner.a\r\n' +
        "'=SUM(A1),-5,'@x\r\n" +
        '"a ""b"", c\nd",1e+21,\r\n' +
        "'+1,-0.5,\r\n'-1,-0.5,\r\n'\t=1,-0.5,\r\n\"'\r=1\",-0.5,\r\n\"'\n=1\",-0.5,\r\n'＝1,-0.5,\r\n",
    );
  });

  it('is sent only to whom it is dearer than JSON', () => {
    expect(chooseMedia('text/csv', true)).toBe('csv');
    expect(chooseMedia('application/json;q=0.5, TEXT/CSV; header=present', true)).toBe('csv');
    expect(chooseMedia('application/json;q=0, */*', true)).toBe('csv');
    for (const accept of [undefined, '', '*/*', 'application/json', 'text/csv;q=0.5, application/json'])
      expect(chooseMedia(accept, true), accept).toBe('json');
  });

  it('gives way to JSON where it is none and JSON will do; what is not to be had at all is refused', () => {
    for (const accept of ['text/csv, */*;q=0.1', 'text/csv, application/json;q=0.5'])
      expect(chooseMedia(accept, false), accept).toBe('json');
    for (const accept of ['text/csv', 'text/csv;q=0', 'image/png', 'text/*;q=0.3'])
      expect(chooseMedia(accept, false), accept).toBeNull();
    expect(chooseMedia('image/png', true)).toBeNull();
  });
});

describe('a tag', () => {
  it('spares whoever has the content already', async () => {
    const first = await ask('GET', '/api/v1/plan');
    const etag = String(first.headers['etag']);
    expect(etag).toMatch(/^"[\w-]{22}"$/);
    const again = await ask('GET', '/api/v1/plan', { 'if-none-match': `"other", W/${etag}` });
    expect([again.statusCode, again.body]).toEqual([304, '']);
    expect((await ask('GET', '/api/v1/plan', { 'if-none-match': '"other"' })).statusCode).toBe(200);
    const csv = await ask('GET', '/api/v1/plan', { accept: 'text/csv', 'if-none-match': etag });
    expect(csv.statusCode).toBe(200);
  });
});

describe('a long answer', () => {
  const packing = { 'accept-encoding': 'br, gzip' };

  it('is packed for who takes that, with a tag that says no more than that it is the same content', async () => {
    const plain = await ask('GET', '/api/v1/openapi.json');
    const packed = await ask('GET', '/api/v1/openapi.json', packing);
    expect([plain.headers['content-encoding'], packed.headers['content-encoding']]).toEqual([
      undefined,
      'gzip',
    ]);
    expect(gunzipSync(packed.rawPayload).toString()).toBe(plain.body);
    expect(packed.rawPayload.length).toBeLessThan(plain.body.length / 5);
    expect(packed.headers['etag']).toBe(`W/${String(plain.headers['etag'])}`);
    expect(packed.headers['vary']).toContain('accept-encoding');
    const known = { ...packing, 'if-none-match': String(packed.headers['etag']) };
    expect((await ask('GET', '/api/v1/openapi.json', known)).statusCode).toBe(304);
  });

  it('is left as it is for who takes none, and where it is short', async () => {
    for (const accepted of ['br', 'gzip;q=0', 'gzip;q=0.0 , br', 'identity']) {
      const { headers } = await ask('GET', '/api/v1/openapi.json', { 'accept-encoding': accepted });
      expect(headers['content-encoding'], accepted).toBeUndefined();
    }
    expect((await ask('GET', '/api/v1/notify', packing)).headers['content-encoding']).toBeUndefined();
  });
});

describe('methods', () => {
  it('HEAD answers as GET without a body, OPTIONS says what there is, others are refused with what there is', async () => {
    const head = await ask('HEAD', '/api/v1/plan');
    expect([head.statusCode, head.body]).toEqual([200, '']);
    expect(head.headers['etag']).toBe((await ask('GET', '/api/v1/plan')).headers['etag']);
    const options = await ask('OPTIONS', '/api/v1/motors/pump-1/actions');
    expect([options.statusCode, options.headers['allow']]).toEqual([204, 'GET, HEAD, OPTIONS, POST']);
    const put = await ask(
      'PUT',
      '/api/v1/motors/pump-1/actions',
      { 'content-type': 'application/json' },
      '{}',
    );
    expect([put.statusCode, put.headers['allow']]).toEqual([405, 'GET, HEAD, OPTIONS, POST']);
    expect(problemBody.parse(put.json()).hint).toContain('GET, HEAD, OPTIONS, POST');
    expect((await ask('HEAD', '/api/v1/live')).statusCode).toBe(405);
    expect((await ask('OPTIONS', '/api/v1/nothing')).statusCode).toBe(404);
  });
});

describe('every refusal is a problem document with a hint', () => {
  const json = { 'content-type': 'application/json' };
  const path = '/api/v1/alarms/acknowledge';

  it.each([
    ['an address that is not there', 404, () => ask('GET', '/api/v1/nothing')],
    ['an address that cannot be read', 400, () => ask('GET', '/api/v1/%zz')],
    ['a parameter that is not known', 400, () => ask('GET', '/api/v1/alarms?stat=open')],
    ['another method', 405, () => ask('PATCH', '/api/v1/alarms', json, '{}')],
    ['JSON that is none', 400, () => ask('POST', path, json, '{"who": ')],
    ['no body', 400, () => ask('POST', path, json)],
    ['another method without a body', 405, () => ask('PUT', '/api/v1/alarms')],
    ['null for a body', 400, () => ask('POST', '/api/v1/sinks/historian/test', json, 'null')],
    ['another media type', 415, () => ask('POST', path, { 'content-type': 'text/plain' }, 'x')],
    ['a packed body', 415, () => ask('POST', path, { ...json, 'content-encoding': 'gzip' }, '{}')],
    ['what is not to be had', 406, () => ask('GET', '/api/v1/alarms', { accept: 'image/png' })],
    ['a span that ends before it begins', 400, () => ask('GET', '/api/v1/rollups?from=2&to=1')],
    ['rollups of a sensor that never was', 404, () => ask('GET', '/api/v1/rollups?sensor=pump-9/de')],
    ['starts of a motor that never was', 404, () => ask('GET', '/api/v1/transients?motor=pump-9')],
    ['a sensor that never was', 404, () => ask('GET', '/api/v1/sensors?sensor=pump-9/de')],
    [
      'setpoints of a motor that never was',
      404,
      () => ask('GET', '/api/v1/rehearsals/settings?motor=pump-9'),
    ],
    ['the same of a balance', 400, () => ask('GET', '/api/v1/ledger?from=2&to=1')],
    ['too much', 413, () => ask('POST', path, json, JSON.stringify({ who: 'x'.repeat(20_000) }))],
    ['a foreign host', 403, () => ask('GET', '/api/v1/alarms', { host: 'evil.example' })],
  ])('%s', async (_what, status, make) => {
    const response = await make();
    expect(response.statusCode).toBe(status);
    expect(response.headers['content-type']).toBe('application/problem+json; charset=utf-8');
    const problem = problemBody.parse(response.json());
    expect(problem.status).toBe(status);
    expect(problem.hint).not.toBe('');
    expect(response.headers['content-security-policy']).toContain("default-src 'none'");
    expect(response.headers['x-content-type-options']).toBe('nosniff');
  });
});
