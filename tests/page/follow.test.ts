/** What the page follows by asking, against a gateway that is slow, silent or gone, without a browser. */
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { followJournal, type JournalAnswer } from '../../src/page/alarms/journal-pages.js';
import { ApiProblem } from '../../src/page/data/api-client.js';
import { followJob } from '../../src/page/data/follow-job.js';
import { LatestLoad } from '../../src/page/data/latest-load.js';
import { tellLive } from '../../src/page/data/live-events.js';
import { ChartModel } from '../../src/page/motor/chart-model.js';
import { followDayStrips, stripOf, stripsProblem } from '../../src/page/parts/day-strips.js';

const AT = Date.UTC(2026, 2, 3, 12);
const HOUR_MS = 3_600_000;

interface Asked {
  readonly address: URL;
}
let asked: Asked[] = [];
/** requests that were aborted before their answer */
let cut = 0;

/** `answer` to each request after `takesMs`; a number is the status of a refusal, and null is no answer. */
function serve(answer: (request: Asked, place: number) => object | number | null, takesMs = 0): void {
  vi.stubGlobal('fetch', async (path: string, { signal }: { signal: AbortSignal }): Promise<Response> => {
    const request = { address: new URL(path, 'http://gateway') };
    const place = asked.push(request) - 1;
    await new Promise<void>((resolve, reject) => {
      setTimeout(resolve, takesMs);
      signal.addEventListener('abort', () => reject(signal.reason as Error));
    }).catch((error: unknown) => {
      cut += 1;
      throw error;
    });
    const body = answer(request, place);
    if (body === null) throw new TypeError('no answer');
    if (typeof body === 'number') return new Response('{"title":"refused"}', { status: body });
    return new Response(JSON.stringify(body));
  });
}

beforeEach(() => {
  asked = [];
  cut = 0;
  vi.useFakeTimers({ now: AT });
});
afterEach(() => {
  vi.useRealTimers();
  vi.unstubAllGlobals();
});

describe.each(['/counts/7', '/rehearsals/7'])('%s', (path) => {
  interface Job {
    readonly share: number;
  }
  function follow() {
    const told: (Job | null)[] = [];
    const problems: (number | null)[] = [];
    const end = followJob<Job>({
      ...{ path, everyMs: 700, isOver: ({ share }: Job) => share === 1 },
      take: (job) => told.push(job),
      tell: (problem) => problems.push(problem?.status ?? null),
    });
    return { told, problems, end };
  }

  it('is followed to its end past an answer that does not come and one that is refused', async () => {
    const answers = [{ share: 0.2 }, null, 503, { share: 0.6 }, { share: 1 }];
    serve((_, place) => answers[place]!);
    const { told, problems } = follow();
    await vi.advanceTimersByTimeAsync(20_000);
    expect(told).toEqual([{ share: 0.2 }, { share: 0.6 }, { share: 1 }]);
    expect(problems).toEqual([null, 0, 503, null, null]);
    expect(asked[0]!.address.pathname).toBe(`/api/v1${path}`);
  });

  it('is gone when the gateway knows of it no more', async () => {
    serve((_, place) => (place === 0 ? { share: 0.2 } : 404));
    const { told, problems } = follow();
    await vi.advanceTimersByTimeAsync(20_000);
    expect([told, problems, asked.length]).toEqual([[{ share: 0.2 }, null], [null, 404], 2]);
  });
});

describe('the journal', () => {
  const page = (request: Asked): object => {
    const cursor = Number(request.address.searchParams.get('cursor') ?? 0);
    expect(request.address.searchParams.get('order')).toBe('newest');
    return { journal: [{ id: 4 - cursor }], next: cursor === 4 ? null : String(cursor + 1) };
  };

  it('comes to its last page while entries go on coming', async () => {
    serve(page, 400);
    const answers: JournalAnswer[] = [];
    const end = followJournal({ lastMs: HOUR_MS, subject: null, what: null }, (each) => answers.push(each));
    for (let i = 0; i < 100; i++) {
      tellLive('journal', { subject: 'a' } as never);
      await vi.advanceTimersByTimeAsync(100);
    }
    expect(cut).toBe(0);
    expect(answers.length).toBeGreaterThan(1);
    expect(answers[0]).toEqual({ rows: [4, 3, 2, 1, 0].map((id) => ({ id })), problem: null });
    end();
  });

  it('is loaded once more after what came last, and later, as its span moves on', async () => {
    serve(page);
    const end = followJournal({ lastMs: HOUR_MS, subject: 'a', what: null }, () => undefined);
    await vi.advanceTimersByTimeAsync(1_000);
    tellLive('journal', { subject: 'b' } as never);
    await vi.advanceTimersByTimeAsync(1_000);
    expect(asked).toHaveLength(5);
    tellLive('journal', { subject: 'a' } as never);
    await vi.advanceTimersByTimeAsync(1_000);
    expect(asked).toHaveLength(10);
    await vi.advanceTimersByTimeAsync(320_000);
    const begins = asked.map(({ address }) => Number(address.searchParams.get('from')));
    expect(begins[0]).toBe(AT - HOUR_MS);
    expect(begins.at(-1)! - begins[0]!).toBeGreaterThanOrEqual(300_000);
    end();
    const before = asked.length;
    await vi.advanceTimersByTimeAsync(600_000);
    expect(asked).toHaveLength(before);
  });

  it('is loaded again after a failure', async () => {
    serve((request, place) => (place === 0 ? null : page(request)));
    const answers: JournalAnswer[] = [];
    const end = followJournal({ lastMs: null, subject: null, what: null }, (each) => answers.push(each));
    await vi.advanceTimersByTimeAsync(60_000);
    expect(answers.map(({ rows, problem }) => [rows?.length ?? null, problem?.status ?? null])).toEqual([
      [null, 0],
      [5, null],
    ]);
    end();
  });
});

describe('the chart of a motor', () => {
  const answer = ({ address }: Asked): object =>
    address.pathname.endsWith('/timeline') ? { marks: [] } : { points: [], bucket_ms: 2_000 };

  function follow(model: ChartModel, seconds: number): Promise<void> {
    const end = setInterval(() => model.tick(), 1_000);
    return vi.advanceTimersByTimeAsync(1_000 * seconds).then(() => clearInterval(end));
  }

  it('that follows the time keeps its span, and loads to the end what takes longer than its steps', async () => {
    serve(answer, 15_000);
    const model = new ChartModel(
      'pump-1',
      ['pump-1/de'],
      { from: AT - 0.98 * HOUR_MS, to: AT + 72_000 },
      true,
    );
    await follow(model, 600);
    expect(model.loaded.value).not.toBeNull();
    expect(cut).toBe(0);
    const { from, to } = model.span.value;
    expect([to - from, to > AT + 600_000]).toEqual([HOUR_MS, true]);
    model.close();
  });

  it('is loaded anew when what was asked for a closer look comes after the look is over', async () => {
    const wide = { from: AT - 700 * HOUR_MS, to: AT - 100 * HOUR_MS };
    serve(answer);
    const model = new ChartModel('pump-1', ['pump-1/de'], wide, false);
    await vi.advanceTimersByTimeAsync(1_000);
    serve(answer, 2_000);
    model.show({ from: AT - 301 * HOUR_MS, to: AT - 300 * HOUR_MS });
    await vi.advanceTimersByTimeAsync(500);
    model.show(wide);
    await vi.advanceTimersByTimeAsync(10_000);
    const { from, to } = model.loaded.value!.span;
    expect([from <= wide.from, to >= wide.to, asked.length]).toEqual([true, true, 6]);
    model.close();
  });

  it('says when it has settled, also where what was loaded will do', async () => {
    serve(answer);
    const span = { from: AT - 10 * HOUR_MS, to: AT - 8 * HOUR_MS };
    const model = new ChartModel('pump-1', ['pump-1/de'], span, false);
    await vi.advanceTimersByTimeAsync(1_000);
    expect(asked).toHaveLength(2);
    const settled: number[] = [];
    const end = model.settled.subscribe(({ from }) => settled.push((AT - from) / 60_000));
    for (let minutes = 1; minutes <= 5; minutes++) {
      model.show({ from: span.from - 60_000 * minutes, to: span.to - 60_000 * minutes });
      await vi.advanceTimersByTimeAsync(50);
    }
    expect(settled).toEqual([600]);
    await vi.advanceTimersByTimeAsync(1_000);
    // nothing was loaded for it, and the figures beside the chart are of the span that it shows
    expect([asked.length, settled]).toEqual([2, [600, 605]]);
    model.show({ from: AT - 100 * HOUR_MS, to: AT - 98 * HOUR_MS });
    await vi.advanceTimersByTimeAsync(1_000);
    expect([asked.length, settled]).toEqual([4, [600, 605, 6_000]]);
    end();
    model.close();
  });
});

describe('what is kept with the name of what it is of', () => {
  const after = (ms: number, body: string) => () =>
    new Promise<string>((resolve) => setTimeout(() => resolve(body), ms));
  const refused = new ApiProblem(503, 'refused', '', '', '', []);

  it('is not shown under another name, nor by an answer that was overtaken', async () => {
    const counts = new LatestLoad<string>();
    void counts.load('a', after(500, 'of a'));
    void counts.load('b', after(100, 'of b'));
    await vi.advanceTimersByTimeAsync(1_000);
    expect([counts.of('a'), counts.of('b')?.body]).toEqual([null, 'of b']);
  });

  it('stays beside a failure of its own, goes with one of another, and a success ends the problem', async () => {
    const counts = new LatestLoad<string>();
    await counts.load('a', () => Promise.resolve('of a'));
    await counts.load('a', () => Promise.reject(refused));
    expect(counts.of('a')).toEqual({ key: 'a', body: 'of a', problem: refused });
    await counts.load('b', () => Promise.reject(refused));
    expect([counts.of('a'), counts.of('b')]).toEqual([null, { key: 'b', body: null, problem: refused }]);
    await counts.load('b', () => Promise.resolve('of b'));
    expect(counts.of('b')).toEqual({ key: 'b', body: 'of b', problem: null });
  });
});

it('the strips of the last day are asked for again soon after a failure, and each hour', async () => {
  const body = (): object => ({
    ...{
      now: new Date(Date.now()).toISOString(),
      from: new Date(AT).toISOString(),
      step_ms: 1_000,
      next: null,
    },
    sensors: [{ sensor: 'pump-1/de', rates_per_min: [1], states: 'r', last: { pulses: 1, ms: 60_000 } }],
  });
  serve((_, place) => (place === 0 ? null : body()));
  const end = followDayStrips();
  await vi.advanceTimersByTimeAsync(1_000);
  expect(stripsProblem.value?.status).toBe(0);
  await vi.advanceTimersByTimeAsync(59_000);
  expect([stripsProblem.value, stripOf('pump-1/de').value?.states, asked.length]).toEqual([null, 'r', 2]);
  await vi.advanceTimersByTimeAsync(HOUR_MS);
  expect(asked).toHaveLength(3);
  // what may have been missed while a load is under way is loaded after it
  serve(body, 5_000);
  tellLive('again', null);
  await vi.advanceTimersByTimeAsync(1_000);
  tellLive('again', null);
  await vi.advanceTimersByTimeAsync(30_000);
  expect(asked).toHaveLength(5);
  end();
});
