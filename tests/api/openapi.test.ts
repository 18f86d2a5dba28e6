/** The OpenAPI document: valid by the standard's own schema, and kept by every answer of a plant that runs. */
import { Validator } from '@seriousme/openapi-schema-validator';
import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js';
import type { FastifyInstance } from 'fastify';
import { rmSync } from 'node:fs';
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
  parameters?: { name: string; required: boolean }[];
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

describe('the document', () => {
  it('is valid OpenAPI 3.1', async () => {
    const found = await new Validator().validate(JSON.parse(JSON.stringify(document)) as Json);
    expect(found.errors ?? []).toEqual([]);
    expect(found.valid).toBe(true);
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
    // what has to be begun or configured first, and what is no JSON
    const unbegun = [
      ...['/api/v1/commissioning/{id}', '/api/v1/counts/{id}', '/api/v1/rehearsals/{id}'],
      '/api/v1/sinks/{name}/ledger',
    ];
    expect(refused.sort()).toEqual([...unbegun, '/api/v1/live', '/metrics'].sort());
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
