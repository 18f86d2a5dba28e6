import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { answerBody, baselinesBody, dossierBody, planBody } from '../../src/api/advice-bodies.js';
import { buildServer } from '../../src/api/server.js';
import { type FakeGateway, makeFakeGateway } from './fake-gateway.js';

let gateway: FakeGateway;
let server: FastifyInstance;

beforeEach(() => {
  gateway = makeFakeGateway();
  server = buildServer(gateway, '127.0.0.1');
});
afterEach(() => server.close());

async function get(url: string): Promise<{ status: number; body: unknown }> {
  const response = await server.inject({ url, headers: { host: '127.0.0.1:8080' } });
  return { status: response.statusCode, body: response.json() };
}

async function refusal(query: string): Promise<string> {
  const { status, body } = await get(`/api/v1/compare?sensor=pump-1/de&${query}`);
  expect(status).toBe(400);
  return String((body as { detail: string }).detail);
}

describe('comparisons', () => {
  it('against the sisters: ratio, limits, shared exposure, method and a plain sentence', async () => {
    const { status, body } = await get('/api/v1/compare?sensor=pump-1/de&question=sisters');
    expect(status).toBe(200);
    const answer = answerBody.strict().parse(body);
    expect(answer.comparison).toMatchObject({ ratio: 6, shared_ms: 111_600_000, method: 'mantel-haenszel' });
    expect(answer.sentence).toMatch(
      /^pump-1 DE discharges 6\.0 times \(5\.\d to 6\.\d\) as often as the median of its group/,
    );
    expect(answer.sisters?.placed).toEqual([{ sister: 'pump-2 DE', ratio: null, shared_ms: 3_600_000 }]);
    expect(answer.sisters?.score).toMatchObject({ odd: true, torn: false });
  });

  it('without a yardstick the answer says what is missing, with status 200', async () => {
    const { status, body } = await get('/api/v1/compare?sensor=pump-1/de&question=baseline');
    const answer = answerBody.parse(body);
    expect([status, answer.comparison, answer.missing]).toEqual([200, null, 'no bin has a yardstick yet']);
  });

  it('periods and times reach the question as milliseconds', async () => {
    const before = '2026-02-01T00:00:00Z..2026-02-08T00:00:00Z';
    const after = '2026-02-09T00:00:00%2B01:00..1771200000000';
    await get(`/api/v1/compare?sensor=pump-1/de&question=periods&before=${before}&after=${after}`);
    await get('/api/v1/compare?sensor=pump-1/de&question=sisters&from=2026-02-01T00:00:00Z');
    expect(gateway.advice.asked).toEqual([
      {
        kind: 'periods',
        sensor: 'pump-1/de',
        before: { from: Date.UTC(2026, 1, 1), to: Date.UTC(2026, 1, 8) },
        after: { from: Date.UTC(2026, 1, 8, 23), to: 1_771_200_000_000 },
      },
      { kind: 'sisters', sensor: 'pump-1/de', from: Date.UTC(2026, 1, 1), to: null },
    ]);
  });

  it('around an action: the action is told; one that is not there is 404', async () => {
    const { body } = await get('/api/v1/compare?sensor=pump-1/de&question=around&action=7');
    expect(answerBody.parse(body).action).toMatchObject({ id: 7, action: 'regreased', is_remedy: true });
    const missing = await get('/api/v1/compare?sensor=pump-1/de&question=around&action=8');
    expect(missing.status).toBe(404);
    expect((missing.body as { detail: string }).detail).toContain('no maintenance action 8');
  });

  it('refuses what has no effect instead of ignoring it', async () => {
    expect(await refusal('question=around')).toContain('action');
    expect(await refusal('question=sisters&action=7')).toContain('does not go with');
    expect(await refusal('question=periods&before=2026-02-01T00:00:00Z..2026-02-08T00:00:00Z')).toContain(
      'after',
    );
    expect(await refusal('question=periods&before=2026-02-08T00:00:00Z..2026-02-01T00:00:00Z')).toContain(
      'before',
    );
    expect(await refusal('question=baseline&from=2026-02-08T00:00:00Z&to=2026-02-01T00:00:00Z')).toContain(
      'from',
    );
    expect(await refusal('question=severity')).toContain('question');
    const { status } = await get('/api/v1/compare?sensor=pump-9/de&question=sisters');
    expect(status).toBe(404);
  });
});

describe('baselines, the plan list and its motors', () => {
  it('say what a yardstick lacks, for all sensors or one', async () => {
    const all = baselinesBody.parse((await get('/api/v1/baselines')).body);
    expect(all.baselines.map(({ sensor }) => sensor)).toEqual([...gateway.plan().sensors.keys()]);
    const { baselines } = baselinesBody.parse((await get('/api/v1/baselines?sensor=pump-1/de')).body);
    expect(baselines[0]?.bins[0]?.lacking?.text).toBe('1.0 h of running, 6 days and 95 pulses more');
    expect((await get('/api/v1/baselines?sensor=pump-9/de')).status).toBe(404);
  });

  it('rank motors without a remaining life, and say so', async () => {
    const { standing, motors } = planBody.parse((await get('/api/v1/plan')).body);
    expect(standing).toContain('No remaining-life figure');
    expect(motors).toMatchObject([{ rank: 1, motor: 'pump-1', ground: 'no-ground' }]);
  });

  it('of one motor: remedies, hypotheses and all cautions', async () => {
    const { remedies, advice } = dossierBody.parse((await get('/api/v1/plan/pump-1')).body);
    expect(remedies[0]?.action?.text).toBe('regreased, drive end');
    expect(advice.hypotheses).toHaveLength(7);
    expect(advice.cautions.length).toBeGreaterThanOrEqual(12);
    expect((await get('/api/v1/plan/pump-9')).status).toBe(404);
  });

  it('are described by the OpenAPI document', async () => {
    const { paths } = (await get('/api/v1/openapi.json')).body as { paths: Record<string, unknown> };
    for (const path of ['compare', 'baselines', 'plan', 'plan/{motor}'])
      expect(Object.keys(paths)).toContain(`/api/v1/${path}`);
  });
});
