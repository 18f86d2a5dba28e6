/** The OpenAPI document: valid by the standard's own schema, and kept by every answer of a plant that runs. */
import { Validator } from '@seriousme/openapi-schema-validator';
import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js';
import type { FastifyInstance } from 'fastify';
import { readFileSync, rmSync } from 'node:fs';
import { pino } from 'pino';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { buildServer } from '../../src/api/server.js';
import { startStation, type Station } from '../../src/cli/station.js';
import { loadConfig } from '../../src/config/parse.js';
import { type LittlePlant, makeLittlePlant } from '../cli/little-plant.js';
import { runTallypost } from '../cli/recorder.js';
import { makeFakeGateway } from './fake-gateway.js';

type Json = Record<string, unknown>;
type Operation = {
  parameters?: { name: string; required: boolean; schema: Json }[];
  responses: Record<string, { content?: Json }>;
};
type Document = { paths: Record<string, Record<string, Operation>>; components: Json };

const ANY_PORT = { host: '127.0.0.1', port: 0 };
let server: FastifyInstance;
let document: Document;
let plant: LittlePlant;
let station: Station;

beforeAll(async () => {
  server = buildServer(makeFakeGateway(), '127.0.0.1');
  document = (await server.inject({ url: '/api/v1/openapi.json', headers: { host: '127.0.0.1' } })).json();
  plant = makeLittlePlant(Math.floor(Date.now() / 60_000) * 60_000 - 3_600_000);
  const { code, err } = await runTallypost(
    'replay',
    '--config',
    plant.config,
    '--data',
    plant.dataDir,
    plant.capture,
  );
  if (code !== 0) throw new Error(err);
  const loaded = loadConfig(plant.config);
  if (!loaded.ok) throw new Error('the configuration of the test is wrong');
  const log = pino({ level: 'silent' });
  station = await startStation({ ...loaded, dataDir: plant.dataDir, mqtt: ANY_PORT, http: ANY_PORT, log });
});
afterAll(async () => {
  await station.stop();
  await server.close();
  rmSync(plant.folder, { recursive: true, force: true });
});

/** The schema of an answer, able to find the components. */
function compile(schema: unknown): ValidateFunction {
  const ajv = new Ajv2020({ strict: false, validateFormats: false, allErrors: true });
  return ajv.compile({ ...(schema as Json), components: document.components });
}

function schemaOf(path: string, method: string, status: number, mediaType: string): unknown {
  const answer = document.paths[path]?.[method]?.responses[String(status)];
  return (answer?.content?.[mediaType] as { schema?: unknown } | undefined)?.schema;
}

/** Values for what an address and a question need. */
const VALUES: Record<string, string> = {
  ...{
    id: 'pump-1',
    motor: 'pump-1',
    sensor: 'pump-1/de',
    position: 'de',
    question: 'baseline',
    period: '10m',
  },
  ...{ points: '100', limit: '50' },
};

function fill(path: string, { parameters = [] }: Operation): string {
  const now = Date.now();
  const own: Record<string, string> = {
    ...{ ...VALUES, group: station.gateway.plan().motors.get('pump-1')!.dutyGroup },
    ...{ from: String(now - 3_600_000), to: String(now) },
    ...(path.includes('/alarms/{id}') ? { id: 'pump-1.de-rate-high' } : {}),
  };
  const filled = path.replaceAll(/\{(\w+)\}/g, (_all, name: string) => encodeURIComponent(own[name] ?? '1'));
  const wanted = parameters.filter(({ name, required }) => required && !path.includes(`{${name}}`));
  const query = new URLSearchParams(wanted.map(({ name }): [string, string] => [name, own[name] ?? '1']));
  return `${filled}?${query.toString()}`;
}

/** Source: RFC 4180, 2. */
function parseCsv(text: string): string[][] {
  const cell = /("(?:[^"]|"")*"|[^",\r\n]*)(,|\r\n)/gy;
  const rows: string[][] = [[]];
  let end = 0;
  for (const [whole, value, stop] of text.matchAll(cell)) {
    rows.at(-1)!.push(value!);
    if (stop === '\r\n') rows.push([]);
    end += whole.length;
  }
  expect(end).toBe(text.length);
  return rows.slice(0, -1);
}

describe('the document', () => {
  it('is valid OpenAPI 3.1', async () => {
    const found = await new Validator().validate(JSON.parse(JSON.stringify(document)) as Json);
    expect(found.errors ?? []).toEqual([]);
    expect(found.valid).toBe(true);
  });

  /** Answers with a list in them that are no table all the same. */
  const NO_TABLE: Readonly<Record<string, string>> = {
    '/ready': 'a word for whoever watches the process',
    '/api/v1/alarms/{id}': 'one alarm',
    '/api/v1/compare': 'one answer in words, with what it rests on',
    '/api/v1/commissioning/{id}': 'one run',
    '/api/v1/counts': 'one count',
    '/api/v1/counts/{id}': 'one count',
    '/api/v1/gateway': 'one gateway',
    '/api/v1/plan/{motor}': 'a dossier in words',
    '/api/v1/live': 'a stream',
  };
  /** Lists that do not grow: what bounds them. */
  const NO_PAGES: Readonly<Record<string, string>> = {
    '/api/v1/series': 'points',
    '/api/v1/sisters/{group}': 'the sensors of one group',
    '/api/v1/alarms/performance': 'one row a figure',
    '/api/v1/motors/{id}/bearing-life': 'the bearings of one end',
    '/api/v1/sinks': 'as many as are configured',
    '/api/v1/notify': 'as many as are configured',
    '/api/v1/rehearsals': 'the last eight are kept',
    '/api/v1/rehearsals/{id}': 'the alarms of one rehearsal',
  };
  const reads = (): [path: string, operation: Operation][] =>
    Object.entries(document.paths).flatMap(([path, { get }]) => (get === undefined ? [] : [[path, get]]));

  it('offers every list as CSV, and what is none is named here', () => {
    const without = reads().filter(([, { responses }]) => {
      const content = responses['200']?.content ?? {};
      return JSON.stringify(content).includes('"items"') && !('text/csv' in content);
    });
    expect(without.map(([path]) => path).filter((path) => !(path in NO_TABLE))).toEqual([]);
  });

  it('has pages for every list that can grow, and tells how long they are and may be', () => {
    const lists = reads().filter(([, { responses }]) => 'text/csv' in (responses['200']?.content ?? {}));
    expect(lists.length).toBeGreaterThan(20);
    for (const [path, { parameters = [] }] of lists) {
      if (path in NO_PAGES) continue;
      const limit = parameters.find(({ name }) => name === 'limit');
      expect(limit?.schema, path).toMatchObject({ type: 'integer', minimum: 1, maximum: 1000, default: 200 });
      expect(
        parameters.map(({ name }) => name),
        path,
      ).toContain('cursor');
    }
  });

  it('is told of in docs/http.md, every address of it', () => {
    const told = readFileSync(new URL('../../docs/http.md', import.meta.url), 'utf8');
    const last = (path: string): string => path.split('/').at(-1)!;
    // of those that differ in their last word one is spelt out, and the others named beside it
    const missing = Object.keys(document.paths).filter(
      (path) =>
        !told.includes(`${path}\``) && !told.includes(`${path}?`) && !told.includes(`\`${last(path)}\``),
    );
    expect(missing).toEqual([]);
  });

  it('names every operation once, and says who may', () => {
    const operations = Object.entries(document.paths).flatMap(([path, methods]) =>
      Object.entries(methods).map(([method, operation]) => ({
        path,
        method,
        ...(operation as object as Json),
      })),
    );
    const ids = operations.flatMap((each) => ('operationId' in each ? [each['operationId']] : []));
    expect(new Set(ids).size).toBe(ids.length);
    const writes = operations.filter(({ method, path }) => method !== 'get' && path !== '/api/v1/session');
    expect(writes.length).toBeGreaterThan(15);
    for (const each of writes) expect(['operate', 'engineer']).toContain((each as Json)['x-role']);
  });
});

/** What has to be begun or configured first. */
const UNBEGUN = [
  ...['/api/v1/commissioning/{id}', '/api/v1/counts/{id}', '/api/v1/rehearsals/{id}'],
  '/api/v1/sinks/{name}/ledger',
];

describe('a plant that runs', () => {
  it('answers every reading of the document as the document says, or refuses as it says', async () => {
    const answered: string[] = [];
    for (const [path, methods] of Object.entries(document.paths)) {
      const operation = methods['get'];
      if (operation === undefined || path === '/api/v1/live' || path === '/metrics') continue;
      const response = await fetch(station.http + fill(path, operation));
      const mediaType = String(response.headers.get('content-type')).split(';', 1)[0]!;
      const schema = schemaOf(path, 'get', response.status, mediaType);
      expect(schema, `${path} answered ${response.status} with ${mediaType}`).toBeDefined();
      const validate = compile(schema);
      const body: unknown = await response.json();
      expect(validate(body), `${path}: ${JSON.stringify(validate.errors?.slice(0, 3))}`).toBe(true);
      if (response.status === 200) answered.push(path);
    }
    const refused = Object.keys(document.paths).filter(
      (path) => document.paths[path]?.['get'] && !answered.includes(path),
    );
    // these, and what is no JSON
    expect(refused.sort()).toEqual([...UNBEGUN, '/api/v1/live', '/metrics'].sort());
  });

  it('answers every list as a table, each line as wide as its head', async () => {
    let asked = 0;
    for (const [path, { get }] of Object.entries(document.paths)) {
      if (get === undefined || !('text/csv' in (get.responses['200']?.content ?? {}))) continue;
      const response = await fetch(station.http + fill(path, get), { headers: { accept: 'text/csv' } });
      // what has to be begun or configured first
      if (UNBEGUN.includes(path)) continue;
      expect([path, response.status]).toEqual([path, 200]);
      expect(response.headers.get('content-type'), path).toContain('text/csv');
      const [head, ...rows] = parseCsv(await response.text());
      expect(head!.length, path).toBeGreaterThan(1);
      expect(new Set(head).size, path).toBe(head!.length);
      for (const row of rows) expect(row.length, path).toBe(head!.length);
      asked += 1;
    }
    expect(asked).toBeGreaterThan(20);
  });

  it('answers what is written as the document says', async () => {
    const tries: [path: string, filled: string, body: object, status: number][] = [
      ['/api/v1/commissioning', '/api/v1/commissioning', { motor: 'pump-1', who: 'A' }, 200],
      ['/api/v1/commissioning', '/api/v1/commissioning', { motor: 'pump-9', who: 'A' }, 404],
      ['/api/v1/commissioning/{id}/steps', '/api/v1/commissioning/1/steps', { step: 'stop', who: 'A' }, 200],
      ['/api/v1/commissioning/{id}/finish', '/api/v1/commissioning/1/finish', { who: 'A', note: 'x' }, 200],
      ['/api/v1/motors/{id}/actions', '/api/v1/motors/pump-1/actions', { action: 'regreased', by: 'A' }, 200],
      ['/api/v1/counts', '/api/v1/counts', { sensor: 'pump-1/de', for_ms: 10_000 }, 200],
      ['/api/v1/alarms/acknowledge', '/api/v1/alarms/acknowledge', { who: 'A', motor: 'pump-1' }, 200],
      ['/api/v1/session', '/api/v1/session', { name: 'a', password: 'b' }, 200],
      ['/api/v1/session', '/api/v1/session', { name: '' }, 400],
    ];
    for (const [path, filled, body, status] of tries) {
      const response = await fetch(station.http + filled, {
        ...{ method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) },
      });
      const answer: unknown = await response.json();
      expect([path, response.status], JSON.stringify(answer)).toEqual([path, status]);
      const mediaType = status === 200 ? 'application/json' : 'application/problem+json';
      const validate = compile(schemaOf(path, 'post', status, mediaType));
      expect(validate(answer), `${path}: ${JSON.stringify(validate.errors?.slice(0, 3))}`).toBe(true);
    }
  });
});
