/** Lists in pages: a plant of a thousand sensors comes whole, once, in its order, however small the pages are. */
import { describe, expect, it } from 'vitest';
import { cutPage } from '../../src/api/pages.js';
import { LIMIT_DEFAULT } from '../../src/api/parameters.js';
import { buildServer } from '../../src/api/server.js';
import { ProblemError } from '../../src/api/problem.js';
import { alarm, makeFakeGateway, type FakeGateway } from './fake-gateway.js';

const SENSORS = 1_000;
const names = Array.from({ length: SENSORS }, (_, at) => `pump-${at}`);
const nameOf = (name: string): string => name;

/** Names of all pages, in the order in which they came. */
function readAll(
  limit: number,
  change: (page: number, names: string[]) => string[] = (_, all) => all,
): string[] {
  const found: string[] = [];
  let cursor: string | undefined;
  for (let page = 0; ; page++) {
    const { items, next } = cutPage(change(page, names), nameOf, { limit, cursor });
    found.push(...items);
    if (next === null) return found;
    cursor = next;
  }
}

describe('pages of a list', () => {
  it('have every item once, in order, at any size', () => {
    for (const limit of [1, 7, 200, 999, 1_000]) expect(readAll(limit)).toEqual(names);
    expect(cutPage(names, nameOf, {}).items).toHaveLength(LIMIT_DEFAULT);
    expect(cutPage([], nameOf, {})).toEqual({ items: [], next: null });
  });

  it('go on where they were when the last item of a page is gone, or others came before it', () => {
    const gone = readAll(10, (page, all) => (page === 0 ? all : all.filter((name) => name !== 'pump-9')));
    // what stood behind it moved up by one: one may be missed, none comes twice
    expect(new Set(gone).size).toBe(gone.length);
    const more = readAll(10, (page, all) => (page === 0 ? all : ['pump-new', ...all]));
    expect(more).toEqual(names);
  });

  it('refuse a cursor of no page of theirs', () => {
    for (const cursor of ['x', '', Buffer.from('12').toString('base64url'), 'MTIgYQ==', '!'])
      expect(() => cutPage(names, nameOf, { cursor }), cursor).toThrow(ProblemError);
  });
});

describe('a cursor', () => {
  it('is of one list and its filters: of another one, or changed, it is refused and begins nowhere', async () => {
    const server = buildServer(makeBigPlant(), '127.0.0.1');
    const get = async (url: string) => server.inject({ url, headers: { host: '127.0.0.1' } });
    const { next } = (await get('/api/v1/sensors?limit=2')).json<{ next: string }>();
    expect((await get(`/api/v1/sensors?limit=5&cursor=${next}`)).statusCode).toBe(200);
    const wrong = [
      ...[
        `sensors?cursor=${next}x`,
        `sensors?cursor=x${next}`,
        `sensors?cursor=${next.slice(8)}`,
        'sensors?cursor=',
      ],
      ...[`strips?cursor=${next}`, `motors?cursor=${next}`, `sensors?sensor=pump-1/de&cursor=${next}`],
    ];
    for (const each of wrong) {
      const answer = await get(`/api/v1/${each}`);
      expect(answer.statusCode, each).toBe(400);
      expect(answer.json<{ faults: { name: string }[] }>().faults[0]?.name, each).toBe('cursor');
    }
    await server.close();
  });
});

/** A plant of 500 motors with two sensors each, each with an alarm. */
function makeBigPlant(): FakeGateway {
  const gateway = makeFakeGateway();
  const small = gateway.plan();
  const [motor, sensor] = [small.motors.get('pump-1')!, small.sensors.get('pump-1/de')!];
  const keys = Array.from({ length: SENSORS / 2 }, (_, at) => `pump-${at + 1}`);
  const plan = {
    ...small,
    motors: new Map(keys.map((key) => [key, { ...motor, key }])),
    sensors: new Map(
      keys.flatMap((key) =>
        ['de', 'nde'].map((position) => {
          const own = { ...sensor, key: `${key}/${position}`, motor: key, position };
          return [own.key, own] as const;
        }),
      ),
    ),
  };
  gateway.plan = () => plan;
  gateway.alarms = [...plan.sensors.values()].map(({ motor: of, position }) => ({
    ...{ ...alarm, id: `${of}.${position}-rate-high`, motor: of },
  }));
  return gateway;
}

describe('a plant of 1,000 sensors', () => {
  it.each([
    ['/api/v1/motors', 'motors', SENSORS / 2],
    ['/api/v1/sensors', 'sensors', SENSORS],
    ['/api/v1/strips', 'sensors', SENSORS],
    ['/api/v1/alarms', 'alarms', SENSORS],
    ['/api/v1/wiring', 'sensors', SENSORS],
  ])('%s comes in pages, whole, and none of them is longer than was asked', async (path, list, count) => {
    const server = buildServer(makeBigPlant(), '127.0.0.1');
    const keys: string[] = [];
    let cursor = '';
    for (;;) {
      const url = `${path}?limit=300${cursor === '' ? '' : `&cursor=${cursor}`}`;
      const answer = await server.inject({ url, headers: { host: '127.0.0.1' } });
      expect(answer.statusCode, answer.body.slice(0, 200)).toBe(200);
      const body = answer.json<Record<string, unknown>>();
      const items = body[list] as { id?: string; sensor?: string; motor: string }[];
      expect(items.length).toBeLessThanOrEqual(300);
      keys.push(...items.map((item) => item.id ?? item.sensor ?? item.motor));
      if (body['next'] === null) break;
      cursor = body['next'] as string;
    }
    expect(new Set(keys).size).toBe(count);
    expect(keys).toHaveLength(count);
    await server.close();
  });
});
