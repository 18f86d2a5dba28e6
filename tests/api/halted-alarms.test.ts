/** Alarms over HTTP while nothing can be stored: acts are refused with what to do, and the gateway's own alarm is seen. */
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { AlarmRecord } from '../../src/core/alarm-rows.js';
import { newAlarm } from '../../src/core/alarm.js';
import { alarmsBody, problemBody } from '../../src/api/bodies.js';
import { buildServer } from '../../src/api/server.js';
import { NotReady } from '../../src/engine/failure.js';
import { alarm, type FakeGateway, makeFakeGateway } from './fake-gateway.js';

const HOST = { host: '127.0.0.1:8080' };
const ALARMS = '/api/v1/alarms';
const ONE = `${ALARMS}/${alarm.id}`;
let gateway: FakeGateway;
let server: FastifyInstance;
beforeEach(() => {
  gateway = makeFakeGateway();
  server = buildServer(gateway, '127.0.0.1');
});
afterEach(() => server.close());

async function get(url: string): Promise<{ status: number; body: unknown }> {
  const response = await server.inject({ url, headers: HOST });
  return { status: response.statusCode, body: response.json() };
}

async function post(url: string, payload: object): Promise<{ status: number; body: unknown }> {
  const response = await server.inject({
    ...{ method: 'POST', url, payload: JSON.stringify(payload) },
    headers: { ...HOST, 'content-type': 'application/json' },
  });
  return { status: response.statusCode, body: response.json() };
}

describe('while nothing can be stored', () => {
  const own: AlarmRecord = {
    ...newAlarm({
      ...{ id: 'gateway.storage-failed', motor: 'gateway', alarm: 'storage-failed', sensor: null },
      ...{ kind: 'storage-failed', priority: 'high' },
    }),
    ...{ active: true, acknowledged: false, state: 'unacknowledged' },
  };

  it('an act is answered with 503 and what to do, and is no fault of ours', async () => {
    gateway.operate = () => Promise.reject(new NotReady('nothing can be stored at the moment'));
    const by = { who: 'A. Reed', note: 'seen' };
    for (const answer of [
      post(`${ONE}/acknowledge`, by),
      post(`${ALARMS}/acknowledge`, { ...by, motor: 'pump-1' }),
    ]) {
      const { status, body } = await answer;
      expect(status).toBe(503);
      expect(problemBody.parse(body)).toMatchObject({
        ...{ type: '/api/v1/problems/not-ready', detail: 'nothing can be stored at the moment' },
        hint: expect.stringContaining('/ready') as string,
      });
    }
    expect(gateway.faults).toEqual([]);
  });

  it('the alarm of the gateway itself is shown though the store cannot be read', async () => {
    gateway.own = [own];
    expect(alarmsBody.parse((await get(ALARMS)).body).missing).toBeNull();
    gateway.failReads = true;
    const { status, body } = await get(`${ALARMS}?state=open`);
    expect(status).toBe(200);
    const { alarms, missing } = alarmsBody.parse(body);
    expect([alarms.map(({ id }) => id), missing]).toEqual([[own.id], 'the store cannot be read']);
    expect((await get(`${ALARMS}/${own.id}`)).status).toBe(200);
    expect((await get(ONE)).status).toBe(500);
    gateway.own = [];
    expect((await get(ALARMS)).status).toBe(500);
  });
});
