/** Sinks without a running gateway, or beside it: a connection of their own from the configuration, and the books as they stand. */
import { setTimeout as sleep } from 'node:timers/promises';
import type { SinkLedgerTable } from '../api/forward-desk.js';
import type { Config } from '../config/config.js';
import type { Plan } from '../core/plan.js';
import { isBalanced, readCursors, readDeliveryLedger, readLosses } from '../forward/delivery-ledger.js';
import { readForwardDatabase } from '../forward/forward-database.js';
import { compareDays, type Difference } from '../forward/proof.js';
import { openSink, type SinkSettings } from '../forward/registry.js';
import type { Sink } from '../forward/sink.js';
import { makeTestRecord } from '../forward/test-record.js';
import { readForwardSettings } from '../gateway-forward.js';
import { readDayManifests } from '../store/day-manifest.js';
import { OutboxReader } from '../store/outbox-reader.js';
import type { StoredPeriod } from '../store/outbox-streams.js';
import { openReader } from '../store/reader.js';
import { CommandFailure, UsageError } from './command.js';

export const DAY_MS = 86_400_000;
/** The books may have been written to between two reads: then they are read again. */
const READS_MAX = 5;
const LOSSES_SHOWN = 1_000;
const ASK_AGAIN_MS_MOST = 3_000;

export interface SinkPlace {
  readonly config: Config;
  readonly plan: Plan;
  readonly dataDir: string;
}

interface OpenedSink {
  readonly settings: SinkSettings;
  readonly sink: Sink;
  readonly warnings: readonly string[];
}

/** Not connected yet. Throws `UsageError` where the configuration has none of that name. */
export function makeSinkHere(
  { config, plan, dataDir }: SinkPlace,
  name: string,
  log: (text: string) => void,
): OpenedSink {
  const names = config.sinks.map((one) => one.name);
  if (!names.includes(name))
    throw new UsageError(
      `There is no sink "${name}" in the configuration.`,
      names.length === 0 ? 'It has none: see docs/sinks.md.' : `It has ${names.join(', ')}.`,
    );
  const { settings, warnings } = readForwardSettings(config, plan, dataDir);
  const own = settings.sinks.find((one) => one.name === name)!;
  const { site, sensors, motors, advice } = settings;
  const sink = openSink(standBeside(own, site), {
    ...{ name, site, sensors, motors, secrets: own.secrets },
    // what is in doubt is for the gateway to send
    memory: { read: () => readMemory(dataDir, name), write: () => undefined },
    askAgain: () => undefined,
    adviceOf: (alarm) =>
      advice.get(alarm) ?? { consequence: '', action: '', rationale: '', class: '', timeToRespondMs: null },
    now: () => Date.now(),
    steady: () => performance.now(),
    log: (_level, _facts, text) => log(text),
  });
  return { settings: own, sink, warnings };
}

/**
 * The same under names of its own: a broker cuts the one of two clients with the same id that came first, and the gateway that runs
 * would be cut by a mere test. An edge node of the same name would tell the host births and deaths that are not the gateway's.
 */
function standBeside(settings: SinkSettings, site: string): SinkSettings {
  if (settings.kind !== 'mqtt' && settings.kind !== 'sparkplug') return settings;
  const clientId = `${settings.clientId ?? `tallypost-${site}-${settings.name}`}-test`;
  return settings.kind === 'mqtt'
    ? { ...settings, clientId }
    : { ...settings, clientId, node: `${settings.node}-test` };
}

function readMemory(dataDir: string, name: string): string | null {
  const db = readForwardDatabase(dataDir);
  const row = db?.prepare('SELECT memory FROM sink WHERE name = ?').get(name) as
    { memory: string | null } | undefined;
  db?.close();
  return row?.memory ?? null;
}

/** Null: the record was taken; else why not. */
export async function testHere({ settings, sink }: OpenedSink): Promise<string | null> {
  const signal = AbortSignal.timeout(settings.deadlineMs);
  try {
    await sink.open(signal);
    const record = makeTestRecord(Date.now());
    let sent = await sink.send([record], signal);
    // a receiver that says how soon it can be asked again is asked again: a primary host is heard of just after the connection
    if (sent.outcome === 'later' && sent.retryAfterMs !== null && sent.retryAfterMs <= ASK_AGAIN_MS_MOST) {
      await sleep(sent.retryAfterMs);
      sent = await sink.send([record], signal);
    }
    return sent.outcome === 'taken' ? null : sent.reason;
  } catch (error) {
    return error instanceof Error ? error.message : String(error);
  } finally {
    await sink.close();
  }
}

export interface ProofResult {
  readonly days: number;
  readonly compared: number;
  readonly differences: readonly Difference[];
}

/** Days from `from` to before `to`, midnight UTC, ms. Throws `CommandFailure` where the receiver cannot be asked. */
export async function proveHere(
  { dataDir }: SinkPlace,
  { settings, sink }: OpenedSink,
  from: number,
  to: number,
): Promise<ProofResult> {
  if (sink.readHeld === undefined)
    throw new CommandFailure(
      `What a sink of the kind ${settings.kind} holds cannot be read by the gateway.`,
      'Compare the manifests that it got with its own rows: the page of the sink in docs/ has the query.',
    );
  const reader = openReader(dataDir);
  const differences: Difference[] = [];
  let compared = 0;
  try {
    await sink.open(AbortSignal.timeout(settings.deadlineMs));
    for (let day = from; day < to; day += DAY_MS)
      for (const period of settings.periods as readonly StoredPeriod[]) {
        const held = await sink.readHeld({ day, period }, AbortSignal.timeout(settings.deadlineMs * 4));
        const stored = readDayManifests(reader, period, day);
        compared += stored.length;
        differences.push(...compareDays(stored, held));
      }
  } catch (error) {
    throw new CommandFailure(
      `The receiver cannot be asked: ${error instanceof Error ? error.message : String(error)}.`,
      `Try "tallypost sinks test ${settings.name}".`,
    );
  } finally {
    reader.close();
    await sink.close();
  }
  return { days: (to - from) / DAY_MS, compared, differences };
}

/** The books as they are written down. Throws `CommandFailure` where there are none. */
export function readLedgerHere(dataDir: string, sink: string): SinkLedgerTable {
  const outbox = new OutboxReader(openReader(dataDir));
  const db = readForwardDatabase(dataDir);
  try {
    const known = db?.prepare('SELECT since FROM sink WHERE name = ?').get(sink) as
      { since: number } | undefined;
    if (db === null || known === undefined)
      throw new CommandFailure(
        `Nothing was ever forwarded to a sink "${sink}" from ${dataDir}.`,
        'Name a sink of the configuration, and start the gateway once.',
      );
    for (let read = 1; ; read++) {
      const lines = db.transaction(() => readDeliveryLedger(db, outbox, sink, readCursors(db, sink)))();
      const isGood = lines.every(isBalanced);
      if (!isGood && read < READS_MAX) continue;
      const losses = readLosses(db, outbox, sink, LOSSES_SHOWN);
      return { sink, since: known.since, isBalanced: isGood, lines, losses };
    }
  } finally {
    db?.close();
    outbox.close();
  }
}
