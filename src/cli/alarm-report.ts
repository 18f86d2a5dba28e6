/** `tallypost alarms report`: from a gateway that runs, or from the store with the configuration. */
import { formatUtc } from '../../shared/time.js';
import { performanceBody, toPerformanceBody, type PerformanceBody } from '../api/alarm-performance-bodies.js';
import { respondTimes } from '../api/alarm-performance-reader.js';
import type { Config } from '../config/config.js';
import type { Plan } from '../core/plan.js';
import type { ReportWish } from './alarm-report-arguments.js';
import { askGateway } from './gateway-client.js';

export async function reportThere(wish: ReportWish, address: string): Promise<PerformanceBody> {
  const query = new URLSearchParams({
    from: formatUtc(wish.from),
    to: formatUtc(wish.to),
    positions: String(wish.positions),
  });
  const answer = await askGateway(address, `/api/v1/alarms/performance?${query.toString()}`, null);
  return performanceBody.parse(answer);
}

export async function reportHere(
  wish: ReportWish,
  { config, plan }: { config: Config; plan: Plan },
  dataDir: string,
): Promise<PerformanceBody> {
  const { openReader } = await import('../store/reader.js');
  const { answerPerformance } = await import('./query/alarm-performance.js');
  const { from, to, positions } = wish;
  const { timeZone } = config;
  const reader = openReader(dataDir);
  try {
    const respondMs = respondTimes(plan, reader.alarms());
    const report = answerPerformance(reader, {
      from,
      to,
      positions,
      timeZone,
      respondMs,
    });
    return toPerformanceBody(report, timeZone);
  } finally {
    reader.close();
  }
}
