/** What pictures are drawn from over HTTP: what is asked of the reader, what is told, and what is refused. */
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { groupSchema, seriesSchema, timelineSchema } from '../../shared/charts.js';
import { problemBody } from '../../src/api/bodies.js';
import { buildServer } from '../../src/api/server.js';
import { type FakeGateway, makeFakeGateway, NOW } from './fake-gateway.js';

const HOST = { host: '127.0.0.1:8080' };
const SPAN = `from=${NOW - 7_200_000}&to=${NOW}`;
let gateway: FakeGateway;
let server: FastifyInstance;
beforeEach(() => {
  gateway = makeFakeGateway();
  server = buildServer(gateway, '127.0.0.1');
});
afterEach(() => server.close());

async function get(url: string) {
  const response = await server.inject({ url, headers: HOST });
  return { status: response.statusCode, body: response.json<unknown>() };
}

describe('a series', () => {
  it('asks for as many points as were wished, and tells zero and no exposure apart', async () => {
    const { status, body } = await get(`/api/v1/series?sensor=pump-1/de&${SPAN}&points=50`);
    expect(status).toBe(200);
    const series = seriesSchema.strict().parse(body);
    expect(gateway.charts.asked).toEqual([
      {
        ...{ sensor: 'pump-1/de', from: NOW - 7_200_000, to: NOW, points: 50 },
        ...{ deadTimeS: 0, hasRunState: true, hasTotal: false },
      },
    ]);
    expect(series.points.map((point) => [point.mean_per_min, point.running_ms])).toEqual([
      [90, 60_000],
      [null, 0],
    ]);
    expect(series.points[0]).toMatchObject({ upper_per_min: null, excluded_ms: { transient: 9_000 } });
    expect(series.points[1]).toMatchObject({
      excluded_ms: { background: 3_600_000 },
      excluded_pulses: { background: 2 },
    });
  });

  it('has the setpoints of its sensor, absolute ones and those on the baseline', async () => {
    const plan = gateway.plan();
    const rateAlarm = { id: 'a', sensor: 'pump-1/de', kind: 'rate-high', priority: 'low' };
    const alarms = {
      rateAlarms: [
        { ...rateAlarm, setpointPerMin: 60, deadbandPerMin: 6 },
        { ...rateAlarm, sensor: 'pump-1/nde' },
      ],
      deviationAlarms: [
        { ...rateAlarm, id: 'b', kind: 'above-baseline', factor: 3 },
        { ...rateAlarm, id: 'c', kind: 'rising', factor: 1 },
      ],
    };
    gateway.plan = () => ({
      ...plan,
      ...(alarms as unknown as Pick<typeof plan, 'rateAlarms' | 'deviationAlarms'>),
    });
    const { body } = await get(`/api/v1/series?sensor=pump-1/de&${SPAN}`);
    const given = seriesSchema.parse(body).setpoints;
    expect(given.map((each) => [each.alarm, each.setpoint_per_min, each.times_baseline])).toEqual([
      ['a', 60, null],
      ['b', null, 3],
    ]);
  });

  it.each([
    [`sensor=pump-1/de&from=9&to=9`, 400, 'to'],
    [`sensor=pump-1/de&from=0&to=${101 * 366 * 86_400_000}`, 400, 'to'],
    [`sensor=pump-1/de&from=0`, 400, 'to'],
    [`sensor=pump-1/de&from=0&to=9&points=4001`, 400, 'points'],
    [`sensor=pump-1/de&from=0&to=9&points=9`, 400, 'points'],
    [`from=0&to=9`, 400, 'sensor'],
    [`sensor=pump-9/de&from=0&to=9`, 404, undefined],
  ])('%s is refused: %i %s', async (query, status, name) => {
    const answer = await get(`/api/v1/series?${query}`);
    expect(answer.status).toBe(status);
    expect(problemBody.parse(answer.body).faults?.[0]?.name).toBe(name);
    expect(gateway.charts.asked).toEqual([]);
  });
});

describe('a timeline', () => {
  it('has strip, starts and stops, condition, and marks of three kinds with their words', async () => {
    const { status, body } = await get(`/api/v1/timeline?motor=pump-1&${SPAN}&limit=5`);
    expect(status).toBe(200);
    const timeline = timelineSchema.strict().parse(body);
    expect(gateway.charts.asked[0]).toMatchObject({
      ...{ motor: 'pump-1', sensors: ['pump-1/de'], limit: 5, cursor: null, heartbeatMs: 30_000 },
    });
    expect(timeline.zone).toBe('Europe/London');
    expect(timeline.marks.map(({ kind, text }) => [kind, text === ''])).toEqual([
      ['action', false],
      ['finding', false],
      ['alarm', false],
    ]);
    expect(timeline.marks[2]?.alarm).toMatchObject({ id: 4, has_evidence: true });
  });

  it('asks for nothing beyond now: what is to come has no run state', async () => {
    const { status, body } = await get(`/api/v1/timeline?motor=pump-1&from=${NOW - 9}&to=${NOW + 9}`);
    expect(status).toBe(200);
    expect(gateway.charts.asked[0]).toMatchObject({ from: NOW - 9, to: NOW });
    expect(Date.parse(timelineSchema.parse(body).to)).toBe(NOW + 9);
  });

  it('an unknown motor is told, with where to look', async () => {
    const { status, body } = await get(`/api/v1/timeline?motor=pump-9&${SPAN}`);
    expect(status).toBe(404);
    expect(problemBody.parse(body).hint).toContain('/api/v1/motors');
  });
});

describe('a duty group', () => {
  it('is drawn with the whole fleet and the dead times of its sensors', async () => {
    const { status, body } = await get('/api/v1/sisters/pumps');
    expect(status).toBe(200);
    const group = groupSchema.strict().parse(body);
    expect(group.sensors[0]).toMatchObject({
      position: 'de',
      matched: { odd: true, ratio: { upper: null } },
    });
    expect(gateway.charts.asked[0]).toMatchObject({
      ...{ group: 'pumps', from: null, to: null, deadTimesS: { 'pump-1/de': 0 } },
    });
  });

  it('an unknown one is told', async () => {
    expect((await get('/api/v1/sisters/fans')).status).toBe(404);
    expect((await get('/api/v1/sisters/pumps?from=9&to=8')).status).toBe(400);
  });
});
