/**
 * The sink `sparkplug`: an edge node of Sparkplug 3.0 whose devices are the motors. Data travel with QoS 0, as the standard asks:
 * `taken` means that the broker has read the messages while the primary host was there, and no more. What was sent shortly
 * before the host, the broker or the gateway went is sent again from the store; a receiver tells repeats by metric and timestamp.
 */
import type { Sent, Sink, SinkParts, SinkRecord } from '../sink.js';
import { Catalogue } from './catalogue.js';
import { divideMemory } from './divided-memory.js';
import { Doubt } from './doubt.js';
import { EdgeNode } from './edge-node.js';
import { toReport, type Report } from './metric-groups.js';

export interface SparkplugSettings {
  readonly kind: 'sparkplug';
  readonly url: string;
  readonly clientId?: string | undefined;
  /** absent: the site */
  readonly group?: string | undefined;
  readonly node: string;
  readonly primaryHost?: string | undefined;
  readonly rebirthMs: number;
  readonly doubtMs: number;
  readonly user?: string | undefined;
  readonly verifyServer: boolean;
  readonly deadlineMs: number;
}

const RECORDS_MOST = 500;
/** How soon to ask again while the host is away: its return is heard at once, records need not wait long for the next try. */
const HOST_RETRY_MS = 2_000;

export function openSparkplugSink(settings: SparkplugSettings, parts: SinkParts): Sink {
  const motors = new Set(parts.motors);
  const { steady, askAgain } = parts;
  const [memory, beside] = divideMemory(parts.memory);
  const doubt = new Doubt({ memory: beside, forMs: settings.doubtMs, steady, askAgain });
  const node = makeNode(settings, parts, new Catalogue(memory), doubt);
  const isKept = settings.primaryHost !== undefined && settings.doubtMs > 0;

  const sendWithdrawn = async (signal: AbortSignal): Promise<boolean> => {
    for (let again = doubt.peek(RECORDS_MOST); again.length > 0; again = doubt.peek(RECORDS_MOST)) {
      if (node.readState() !== 'born') return false;
      doubt.note(again);
      const reports = again.map((record) => toReport({ ...record, isBacklog: true }, motors));
      if (!(await node.publish(reports, signal))) return false;
      doubt.settle(again.length);
    }
    return true;
  };

  return {
    recordsMost: RECORDS_MOST,
    open: async (signal) => {
      // of an earlier life, or of a connection that was closed: the host may have died and come back since
      if (isKept) doubt.arise();
      await node.open(signal);
    },
    close: () => node.close(),
    send: async (records, signal) => {
      if (node.readState() === 'absent') return later('there is no connection to the broker');
      if (signal.aborted) return later('given up before anything was sent');
      if (records.length === 0) return { outcome: 'taken' };
      if (node.readState() === 'waiting') return waitForHost(settings.primaryHost ?? '');
      const reports = readReports(records, motors);
      if (!Array.isArray(reports)) return reports;
      try {
        if (doubt.isOwed) doubt.arise();
        const isBehind = await sendWithdrawn(signal);
        if (isBehind && isKept && !doubt.note(records)) return waitForRoom();
        if (!isBehind || !(await node.publish(reports, signal)))
          return node.readState() === 'waiting'
            ? waitForHost(settings.primaryHost ?? '')
            : later('the connection ended, or the host went, before the broker had read everything');
      } catch (error) {
        if (error instanceof RangeError) return { outcome: 'refused', reason: error.message, index: null };
        throw error;
      }
      return { outcome: 'taken' };
    },
  };
}

function makeNode(
  settings: SparkplugSettings,
  parts: SinkParts,
  catalogue: Catalogue,
  doubt: Doubt,
): EdgeNode {
  const { url, clientId, user, verifyServer, deadlineMs } = settings;
  return new EdgeNode(
    {
      connection: {
        ...{ url, user, verifyServer, secrets: parts.secrets, connectMs: deadlineMs },
        clientId: clientId ?? `tallypost-${parts.site}-${parts.name}`,
      },
      ...{ group: settings.group ?? parts.site, node: settings.node, rebirthMs: settings.rebirthMs },
      primaryHost: settings.primaryHost ?? null,
    },
    catalogue,
    {
      ...{ now: parts.now, steady: parts.steady },
      log: (level, facts, text) => parts.log(level, facts, text),
      onHostLost: () => {
        try {
          doubt.arise();
        } catch (error) {
          // it is tried again before anything else is sent
          parts.log('error', { err: String(error) }, 'what the host may have lost could not be noted');
        }
      },
    },
  );
}

function readReports(records: readonly SinkRecord[], motors: ReadonlySet<string>): Report[] | Sent {
  const reports: Report[] = [];
  for (let index = 0; index < records.length; index++) {
    try {
      reports.push(toReport(records[index]!, motors));
    } catch (error) {
      return { outcome: 'refused', reason: String(error), index };
    }
  }
  return reports;
}

function later(reason: string): Sent {
  return { outcome: 'later', reason, retryAfterMs: null };
}

function waitForRoom(): Sent {
  const reason = 'so many withdrawn transients were sent lately that more must wait';
  return { outcome: 'later', reason, retryAfterMs: HOST_RETRY_MS, isOpen: true };
}

function waitForHost(host: string): Sent {
  const reason = `the primary host ${host} is offline`;
  return { outcome: 'later', reason, retryAfterMs: HOST_RETRY_MS, isOpen: true };
}
