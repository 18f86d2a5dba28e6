/** 72 h without receivers, and the drain, at real receivers of every network sink. */
import { expect, it } from 'vitest';
import { runOutage } from './outage.js';
import { KINDS_HERE, MISSING_RECEIVERS } from './receiver-hall.js';

if (MISSING_RECEIVERS !== null) console.warn(MISSING_RECEIVERS);

it('after 72 h each receiver gets everything once, and what is live within 10 s meanwhile', async () => {
  const { results, findings } = await runOutage({
    ...{ kinds: KINDS_HERE, hours: 72, sensors: ['pump-1/de', 'pump-1/nde', 'pump-2/de'] },
    // 14,700 records at this pace take 20 s and more
    ...{ backlogPerS: 700, liveEveryMs: 500, patienceMs: 90_000, tell: () => undefined },
  });
  expect(findings).toEqual([]);
  for (const result of results) {
    expect(result.drained, result.kind).toBeGreaterThan(14_000);
    expect(result.drainMs, result.kind).toBeGreaterThan(18_000);
    expect(result.live, result.kind).toBeGreaterThan(90);
  }
}, 240_000);
