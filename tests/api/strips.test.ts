/** The route of the strips: every configured sensor has one, and screens that ask together share an answer. */
import { expect, it } from 'vitest';
import { stripsBody } from '../../src/api/routes/strips.js';
import { buildServer } from '../../src/api/server.js';
import { makeFakeGateway, NOW } from './fake-gateway.js';

const HOST = { host: '127.0.0.1:8080' };

it('answers with a strip for each configured sensor, as its schema says', async () => {
  const server = buildServer(makeFakeGateway(), '127.0.0.1');
  const body = stripsBody.parse((await server.inject({ url: '/api/v1/strips', headers: HOST })).json());
  expect(body.sensors.map(({ sensor }) => sensor)).toEqual(['pump-1/de']);
  const [strip] = body.sensors;
  expect(strip!.rates_per_min.at(-1)).toBe(90);
  expect(strip!.states).toHaveLength(body.steps);
  expect(Date.parse(body.from) + body.steps * body.step_ms).toBeGreaterThan(NOW);
});

it('reads once for many screens that come together, anew after a while, and does not keep a failure', async () => {
  const gateway = makeFakeGateway();
  let reads = 0;
  let isBroken = true;
  const reader = {
    ...gateway.reader,
    strips: (from: number) => {
      reads += 1;
      return isBroken ? Promise.reject(new Error('broken')) : gateway.reader.strips(from);
    },
  };
  const server = buildServer({ ...gateway, reader, now: () => gateway.clock }, '127.0.0.1');
  const ask = async (): Promise<number> =>
    (await server.inject({ url: '/api/v1/strips', headers: HOST })).statusCode;
  expect(await ask()).toBe(500);
  isBroken = false;
  expect(await Promise.all([ask(), ask(), ask()])).toEqual([200, 200, 200]);
  expect(reads).toBe(2);
  gateway.clock += 5_001;
  await ask();
  expect(reads).toBe(3);
});
