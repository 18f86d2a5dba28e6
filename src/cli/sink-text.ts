/** Sinks in words and tables for people. */
import type { z } from 'zod';
import type { sinkLedgerBody, sinksBody } from '../api/routes/sinks.js';
import { formatUtc } from '../../shared/time.js';
import type { ProofResult } from './sink-offline.js';
import { writeColumns } from './text-columns.js';

type SinksBody = z.output<typeof sinksBody>;
type SinkBody = SinksBody['sinks'][number];
type LedgerBody = z.output<typeof sinkLedgerBody>;

const LOSSES_SHOWN = 20;
const DIFFERENCES_SHOWN = 100;

export function describeSinks({ sinks }: SinksBody): string {
  if (sinks.length === 0) return 'No sink is configured: nothing is forwarded. See docs/sinks.md.\n';
  const rows = sinks.map((sink) => [
    ...[sink.name, sink.kind, sink.state, String(sink.waiting), String(sink.backlog)],
    ...[
      `${(sink.live_lag_ms / 1_000).toFixed(1)} s`,
      `${sink.rate_per_s.toFixed(1)}/s`,
      describeEta(sink.eta_ms),
    ],
    describeTrouble(sink),
  ]);
  const head = ['sink', 'kind', 'state', 'new', 'backlog', 'lag', 'rate', 'drained in', ''];
  return writeColumns(head, rows, [3, 4, 5, 6, 7]);
}

function describeEta(ms: number | null): string {
  if (ms === null) return '-';
  const minutes = Math.ceil(ms / 60_000);
  return minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}

function describeTrouble(sink: SinkBody): string {
  const parts = [
    sink.failing_since === null ? '' : `takes nothing since ${short(sink.failing_since)}: ${sink.last_error}`,
    sink.failing_since === null && sink.last_error_at !== null
      ? `last trouble ${short(sink.last_error_at)}: ${sink.last_error}`
      : '',
    sink.quarantined === 0 ? '' : `${sink.quarantined} refused for good (sinks retry ${sink.name})`,
    sink.lost === 0 ? '' : `${sink.lost} given up (sinks ledger ${sink.name})`,
    ...sink.backfills
      .filter(({ ended_at: endedAt }) => endedAt === null)
      .map(
        ({ id, sent, after_doubt: isAfterDoubt }) =>
          `backfill ${id}${isAfterDoubt ? ' after doubt' : ''} under way, ${sent} sent`,
      ),
  ];
  return parts.filter((part) => part !== '').join('; ');
}

function short(time: string): string {
  return `${time.slice(0, 19)}Z`;
}

export function describeLedger(ledger: LedgerBody): string {
  const { sink, since, balanced, lines, losses } = ledger;
  const columns = ['produced', 'delivered', 'superseded', 'pending', 'quarantined', 'expired'] as const;
  const sums = new Map<string, Record<(typeof columns)[number], number>>();
  const bad: string[] = [];
  for (const line of lines) {
    const name = line.period === null ? line.stream : `${line.stream} ${line.period}`;
    const sum = sums.get(name) ?? {
      produced: 0,
      delivered: 0,
      superseded: 0,
      pending: 0,
      quarantined: 0,
      expired: 0,
    };
    for (const column of columns) sum[column] += line[column];
    sums.set(name, sum);
    const { produced, delivered, superseded, pending, quarantined, expired } = line;
    const missing = produced - delivered - superseded - pending - quarantined - expired;
    if (missing !== 0)
      bad.push(`  ${name} of ${line.subject}: ${missing} of ${produced} are not accounted for`);
  }
  const table = [...sums].map(([name, sum]) => [name, ...columns.map((column) => String(sum[column])), '']);
  return [
    `Sink ${sink}, since ${short(since)}. Produced = delivered + superseded + pending + quarantined + expired.`,
    '',
    writeColumns(['stream', ...columns, ''], table, [1, 2, 3, 4, 5, 6]),
    balanced ? 'It adds up, in each stream and for each subject.' : 'IT DOES NOT ADD UP:',
    ...bad,
    ...describeLosses(losses),
    '',
  ].join('\n');
}

function describeLosses(losses: LedgerBody['losses']): string[] {
  if (losses.length === 0) return [];
  const rows = losses
    .slice(0, LOSSES_SHOWN)
    .map((loss) => [
      ...[
        loss.period === null ? loss.stream : `${loss.stream} ${loss.period}`,
        loss.subject,
        String(loss.count),
      ],
      ...[short(loss.first_start), short(loss.last_start), loss.reason],
    ]);
  const more = losses.length - rows.length;
  return [
    '',
    'Given up:',
    writeColumns(['stream', 'subject', 'records', 'from', 'to', 'why'], rows, [2]),
    ...(more > 0 ? [`and ${more} more lines, see --json`] : []),
    'What the store still holds of it can be sent again with "tallypost sinks backfill".',
  ];
}

export function describeProof(sink: string, { days, compared, differences }: ProofResult): string {
  const head = `${days} ${days === 1 ? 'day' : 'days'} (UTC), ${compared} sensor-periods compared.`;
  if (differences.length === 0) return `${head} The sink ${sink} holds exactly what the store holds.\n`;
  const rows = differences
    .slice(0, DIFFERENCES_SHOWN)
    .map(({ sensor, period, day, says }) => [sensor, period, formatUtc(day).slice(0, 10), says]);
  const more = differences.length - rows.length;
  return [
    `${head} ${differences.length} differ:`,
    writeColumns(['sensor', 'period', 'day', ''], rows),
    ...(more > 0 ? [`and ${more} more`] : []),
    'Records that still wait differ too: see "tallypost sinks status". Send a stretch again with "tallypost sinks backfill".',
    '',
  ].join('\n');
}
