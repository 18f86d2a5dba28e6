/** Faults of requests on their way to the gateway's log. */
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { FaultLog } from '../../src/cli/web/fault-log.js';

let lines: { facts: Record<string, unknown>; text: string }[];
let log: FaultLog;
beforeEach(() => {
  vi.useFakeTimers();
  lines = [];
  log = new FaultLog((facts, text) => lines.push({ facts: structuredClone(facts) as never, text }));
});
afterEach(() => vi.useRealTimers());

describe('a fault', () => {
  it('keeps what an error says on its way to another thread', () => {
    const err = Object.assign(new TypeError('no such row'), {
      code: 'failed',
      hint: 'Ask again.',
      deep: log,
    });
    log.error({ err, requestId: 'req-7' }, 'a request failed');
    expect(lines).toEqual([
      {
        text: 'a request failed',
        facts: {
          err: {
            ...{ type: 'TypeError', message: 'no such row', code: 'failed', hint: 'Ask again.' },
            stack: expect.stringContaining('no such row') as string,
          },
          requestId: 'req-7',
        },
      },
    ]);
  });

  it('that comes again and again fills no log, and how many were left out is said', () => {
    for (let i = 0; i < 120; i++) log.error({ requestId: `req-${i}` }, 'a request failed');
    expect(lines).toHaveLength(50);
    vi.advanceTimersByTime(10_001);
    log.error({ requestId: 'req-120' }, 'a request failed');
    expect(lines.at(-1)?.facts).toEqual({ requestId: 'req-120', leftOut: 70 });
  });
});
