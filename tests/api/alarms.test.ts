/** Alarms over HTTP: the list and its filters, one of them, what people do to them, and how refusals are told. */
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { ALARM_STATES } from '../../shared/alarm-terms.js';
import { moveAlarm } from '../../src/core/alarm-table.js';
import type { AlarmRecord } from '../../src/core/alarm-rows.js';
import { newAlarm } from '../../src/core/alarm.js';
import { actResultsBody, alarmBody, alarmsBody, problemBody } from '../../src/api/bodies.js';
import { buildServer } from '../../src/api/server.js';
import { alarm, type FakeGateway, makeFakeGateway, NOW } from './fake-gateway.js';

const HOST = { host: '127.0.0.1:8080' };
const ALARMS = '/api/v1/alarms';
const ONE = `${ALARMS}/${alarm.id}`;
const UNTIL = new Date(NOW + 3_600_000).toISOString();
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

const idsOf = async (query: string): Promise<string[]> =>
  alarmsBody.parse((await get(`${ALARMS}${query}`)).body).alarms.map(({ id }) => id);

/** Another alarm of the fake plant, or of one that is not in its configuration. */
const another = (change: Partial<AlarmRecord>): AlarmRecord => ({ ...alarm, ...change });

describe('the list', () => {
  beforeEach(() => {
    gateway.alarms = [
      alarm,
      another({ id: 'pump-1.nde-rising', kind: 'rising', priority: 'medium', state: 'acknowledged' }),
      another({ id: 'fan-1.de-rate-high', motor: 'fan-1', state: 'normal' }),
    ];
  });

  it('is narrowed by motor, zone, kind, priority and state, and by all of them together', async () => {
    expect(await idsOf('')).toHaveLength(3);
    expect(await idsOf('?state=open')).toEqual([alarm.id, 'pump-1.nde-rising']);
    expect(await idsOf('?state=acknowledged')).toEqual(['pump-1.nde-rising']);
    expect(await idsOf('?motor=fan-1')).toEqual(['fan-1.de-rate-high']);
    expect(await idsOf('?zone=hall&priority=low')).toEqual([alarm.id]);
    expect(await idsOf('?kind=rising&motor=fan-1')).toEqual([]);
    for (const state of ALARM_STATES) expect((await get(`${ALARMS}?state=${state}`)).status).toBe(200);
    for (const query of ['?state=closed', '?motor=A', '?priority=urgent', '?zones=hall'])
      expect([query, (await get(`${ALARMS}${query}`)).status]).toEqual([query, 400]);
  });

  it('that were picked are acknowledged together, each answered for itself', async () => {
    const other = another({ id: 'pump-1.nde-rising', kind: 'rising', state: 'unacknowledged' });
    gateway.alarms = [alarm, other];
    const alarms = [alarm.id, other.id, 'pump-1.nothing'];
    const { body } = await post(`${ALARMS}/acknowledge`, { who: 'M. Reed', note: 'one note', alarms });
    const { results } = body as { results: { id: string; done: boolean }[] };
    expect(results.map(({ id, done }) => [id, done])).toEqual([
      ...[
        [alarm.id, true],
        [other.id, true],
        ['pump-1.nothing', false],
      ],
    ]);
    for (const bad of [{ alarms: [] }, { alarms, motor: 'pump-1' }, { alarms: Array(201).fill(alarm.id) }])
      expect((await post(`${ALARMS}/acknowledge`, { who: 'M. Reed', note: '', ...bad })).status).toBe(400);
  });

  it('of a zone has the alarms of the zone itself, and they are acknowledged with it', async () => {
    const id = 'zone-hall.zone-silent';
    gateway.alarms = [alarm, another({ id, motor: 'zone-hall', sensor: null, kind: 'zone-silent' })];
    expect((await idsOf('?zone=hall')).sort()).toEqual([alarm.id, id]);
    expect(await idsOf('?zone=yard')).toEqual([]);
    const { body } = await post(`${ALARMS}/acknowledge`, {
      who: 'M. Reed',
      note: '',
      kind: 'zone-silent',
      zone: 'hall',
    });
    expect(actResultsBody.parse(body).results.map((result) => result.id)).toEqual([id]);
    for (const slip of [{ zone: 'hal' }, { motor: 'pump-77' }, { kind: 'zone-quiet' }]) {
      const answer = await post(`${ALARMS}/acknowledge`, { who: 'M. Reed', note: '', ...slip });
      expect([slip, answer.status]).toEqual([slip, 400]);
      expect(JSON.stringify(answer.body)).toContain(Object.values(slip)[0]);
    }
  });

  it('has first what waits for a person, then what stands, what is grouped, and what is hidden', async () => {
    const open = { active: true, acknowledged: false, state: 'unacknowledged' } as const;
    const seen = { active: true, acknowledged: true, state: 'acknowledged' } as const;
    gateway.alarms = [
      another({
        id: 'pump-1.a-normal',
        active: false,
        acknowledged: true,
        state: 'normal',
        priority: 'high',
      }),
      another({ id: 'pump-1.b-grouped', ...seen, groupedUnder: 'zone-hall.zone-silent', priority: 'high' }),
      another({ id: 'pump-1.c-shelved', ...open, state: 'shelved', shelvedUntil: NOW + 1, priority: 'high' }),
      another({ id: 'pump-1.d-seen', ...seen }),
      another({ id: 'pump-1.e-older', ...open, since: NOW - 2 }),
      another({ id: 'pump-1.f-newer', ...open, since: NOW - 1 }),
      another({ id: 'pump-1.g-urgent', ...open, since: NOW - 3, priority: 'high' }),
    ];
    expect((await idsOf('')).map((id) => id.slice('pump-1.x-'.length))).toEqual([
      'urgent',
      'newer',
      'older',
      'seen',
      'grouped',
      'shelved',
      'normal',
    ]);
  });

  it('has the zone of the site, and the alarms that the gateway cannot store', async () => {
    const halt = {
      id: 'gateway.storage-full',
      motor: 'gateway',
      alarm: 'storage-full',
      kind: 'storage-full',
    };
    gateway.own = [
      { ...newAlarm({ ...halt, sensor: null, priority: 'high' }), active: true, state: 'unacknowledged' },
    ];
    const { alarms, zone } = alarmsBody.parse((await get(`${ALARMS}?state=open`)).body);
    expect([zone, alarms[0]?.id]).toEqual(['Europe/London', 'gateway.storage-full']);
    expect(alarms[0]?.action).toContain('Free space');
    expect((await get(`${ALARMS}/gateway.storage-full`)).status).toBe(200);
  });
});

describe('one alarm', () => {
  it('is told with its evidence and advice', async () => {
    const body = alarmBody.parse((await get(ONE)).body);
    expect(body).toMatchObject({ id: alarm.id, action: 'Take a grease sample.', evidence: { pulses: 900 } });
  });

  it('is known from the configuration before it was ever raised', async () => {
    gateway.alarms = [];
    expect((await get(ONE)).body).toMatchObject({
      id: alarm.id,
      state: 'normal',
      since: null,
      evidence: null,
    });
  });

  it('that nobody knows is 404, with where to look', async () => {
    const { status, body } = await get(`${ALARMS}/pump-9.de-rate-high`);
    expect([status, problemBody.parse(body)]).toMatchObject([404, { reason: 'unknown-alarm' }]);
    expect((await get(`${ALARMS}/performance-art`)).status).toBe(400);
  });
});

describe('acts', () => {
  it('change the alarm one after the other and answer with it', async () => {
    const act = async (path: string, more: object = {}): Promise<unknown> => {
      const { status, body } = await post(`${ONE}/${path}`, { who: 'A. Operator', note: 'why', ...more });
      expect([path, status]).toEqual([path, 200]);
      return alarmBody.parse(body);
    };
    expect(await act('acknowledge')).toMatchObject({ state: 'acknowledged', acknowledged_by: 'A. Operator' });
    expect(await act('confirm')).toMatchObject({ confirmed: true, confirmed_by: 'A. Operator' });
    const shelved = { state: 'shelved', shelved_until: UNTIL, shelved_once: true, shelved_why: 'why' };
    expect(await act('shelve', { until: UNTIL, once: true })).toMatchObject(shelved);
    expect(await act('out-of-service')).toMatchObject({ state: 'out-of-service', out_of_service_why: 'why' });
    expect(await act('return-to-service')).toMatchObject({ state: 'shelved', out_of_service: false });
    expect(await act('unshelve')).toMatchObject({ state: 'acknowledged', shelved_until: null });
    expect(gateway.acts).toHaveLength(6);
  });

  it.each([
    ['confirm', 409, 'acknowledge-first'],
    ['reset', 409, 'not-latched'],
    ['unshelve', 409, 'not-shelved'],
    ['return-to-service', 409, 'in-service-already'],
  ])('%s that does not apply is %d: %s', async (path, status, reason) => {
    const answer = await post(`${ONE}/${path}`, { who: 'A' });
    expect([answer.status, problemBody.parse(answer.body).reason]).toEqual([status, reason]);
    expect(gateway.acts).toEqual([]);
  });

  it('reset needs the return and the acknowledgement', async () => {
    const move = moveAlarm(
      { ...alarm, latched: true },
      { kind: 'return', at: NOW, evidence: alarm.evidence! },
      NOW,
    );
    if (move.refusal === null) gateway.alarms = [move.after];
    expect((await post(`${ONE}/reset`, { who: 'A' })).body).toMatchObject({ reason: 'acknowledge-first' });
    expect((await post(`${ONE}/acknowledge`, { who: 'A' })).body).toMatchObject({
      state: 'latched-acknowledged',
    });
    expect((await post(`${ONE}/reset`, { who: 'A' })).body).toMatchObject({ state: 'normal' });
  });

  it.each([
    ['shelve', { who: 'A', note: 'w' }, 'until'],
    ['shelve', { who: 'A', note: 'w', until: 'tomorrow' }, 'until'],
    ['shelve', { who: 'A', note: 'w', until: '2026-03-02T06:00:00' }, 'until'],
    ['shelve', { who: 'A', note: 'w', until: NOW - 1 }, 'until'],
    ['shelve', { who: 'A', note: 'w', until: NOW + 86_400_001 }, 'until'],
    ['shelve', { who: 'A', until: UNTIL }, 'note'],
    ['shelve', { who: 'A', note: 'w', until: UNTIL, once: 'yes' }, 'once'],
    ['out-of-service', { who: 'A' }, 'note'],
    ['out-of-service', { who: 'A', note: '  ' }, 'note'],
    ['acknowledge', { who: 'a\u0000b' }, 'who'],
    ['acknowledge', { who: 'A', note: 'x\u001b[2J' }, 'note'],
    ['acknowledge', { who: 'x'.repeat(65) }, 'who'],
    ['acknowledge', { who: '\ud800' }, 'who'],
    ['unshelve', { who: 'A', until: UNTIL }, 'the body'],
  ])('%s with %j is refused for its %s', async (path, body, field) => {
    const answer = await post(`${ONE}/${path}`, body);
    expect(answer.status).toBe(400);
    expect(problemBody.parse(answer.body).faults?.[0]?.name).toBe(field);
    expect(gateway.acts).toEqual([]);
  });
});

describe('acknowledging by description', () => {
  const MANY = `${ALARMS}/acknowledge`;
  beforeEach(() => {
    gateway.alarms = [
      alarm,
      another({ id: 'pump-1.nde-rate-high', alarm: 'nde-rate-high' }),
      another({
        id: 'pump-1.de-no-readings',
        kind: 'no-readings',
        acknowledged: true,
        state: 'acknowledged',
      }),
      another({ id: 'pump-1.de-rising', kind: 'rising', outOfService: true, state: 'out-of-service' }),
    ];
  });

  it('takes what waits for it and can be seen, each answered for itself', async () => {
    const { status, body } = await post(MANY, { who: 'A', note: 'all seen', motor: 'pump-1', zone: 'hall' });
    expect([
      status,
      actResultsBody.parse(body).results.map(({ id, done, state }) => [id, done, state]),
    ]).toEqual([
      200,
      [
        [alarm.id, true, 'acknowledged'],
        ['pump-1.nde-rate-high', true, 'acknowledged'],
      ],
    ]);
    expect((await post(MANY, { who: 'A', motor: 'pump-1' })).body).toEqual({ results: [] });
  });

  it('takes what is hidden only where its state is named', async () => {
    const { body } = await post(MANY, { who: 'A', state: 'out-of-service' });
    expect(actResultsBody.parse(body).results).toMatchObject([
      { id: 'pump-1.de-rising', done: true, state: 'out-of-service' },
    ]);
  });

  it.each([
    [{ who: 'A' }, 'at least one of'],
    [{ motor: 'pump-1' }, 'who'],
    [{ who: 'A', motor: 'pump-1', all: true }, 'unknown: all'],
    [{ who: 'A', state: 'open' }, 'state'],
  ])('%j is refused: %s', async (body, says) => {
    const answer = await post(MANY, body);
    expect([answer.status, JSON.stringify(answer.body)]).toEqual([400, expect.stringContaining(says)]);
  });
});

it('the OpenAPI document describes every act', async () => {
  const { paths } = (await get('/api/v1/openapi.json')).body as { paths: Record<string, object> };
  const acts = [
    'acknowledge',
    'confirm',
    'reset',
    'shelve',
    'unshelve',
    'out-of-service',
    'return-to-service',
  ];
  for (const act of acts) expect(paths[`${ALARMS}/{id}/${act}`]).toHaveProperty('post');
  expect(paths[`${ALARMS}/{id}`]).toHaveProperty('get');
  expect(paths[`${ALARMS}/acknowledge`]).toHaveProperty('post');
});
