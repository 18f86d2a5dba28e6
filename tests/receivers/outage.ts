/**
 * An outage of days at real receivers: what the engine produced meanwhile waits in the outbox, then the receivers come back and
 * the forwarder drains while live records go on to come. The receivers' own tables and the ledgers are the judge.
 */
import { join } from 'node:path';
import { compareRows, nameRow, readStored } from '../crash/forward-verdict.js';
import { sleep } from '../support/child.js';
import { ForwardingRig, MINUTE_MS, SITE } from './forwarding-rig.js';
import type { NetworkKind, NetworkReceiver } from './network-receiver.js';
import { startReceivers } from './receiver-hall.js';

export interface OutageWishes {
  readonly kinds: readonly NetworkKind[];
  readonly hours: number;
  readonly sensors: readonly string[];
  readonly backlogPerS: number;
  /** live minutes of all sensors close so often while it drains, ms */
  readonly liveEveryMs: number;
  readonly patienceMs: number;
  tell(line: string): void;
}

export interface OutageResult {
  readonly kind: NetworkKind;
  /** of the outage, drained */
  readonly drained: number;
  /** from the return of the receiver until nothing waited */
  readonly drainMs: number;
  readonly live: number;
  /** from the commit to the receiver's table, the worst live record that was committed while it drained, ms */
  readonly worstLagMs: number;
  readonly rows: number;
}

export interface OutageReport {
  readonly results: readonly OutageResult[];
  readonly findings: readonly string[];
}

/** Room for live minutes behind the outage, in hours of event time. */
const LIVE_HOURS = 8;
const BEFORE_HOURS = 1;
const HOUR_MS = 60 * MINUTE_MS;
const LAG_MS_MOST = 10_000;

export async function runOutage(wishes: OutageWishes): Promise<OutageReport> {
  const past = (wishes.hours + BEFORE_HOURS + LIVE_HOURS) * HOUR_MS;
  const rig = new ForwardingRig(wishes.sensors, Date.now() - past);
  const receivers = await startReceivers(
    { folder: join(rig.folder, 'receivers'), site: SITE, niceness: 0 },
    wishes.kinds,
  );
  try {
    const play = new Play(rig, receivers, wishes);
    await play.loseReceivers();
    await play.drain();
    return await play.judge();
  } finally {
    await Promise.all(receivers.map((receiver) => receiver.stop()));
    await rig.close();
  }
}

class Play {
  /** key of each live record that was committed while something waited -> when, ms */
  readonly #live = new Map<string, number>();
  readonly #drainMs = new Map<NetworkKind, number>();
  #waited = 0;

  constructor(
    private readonly rig: ForwardingRig,
    private readonly receivers: readonly NetworkReceiver[],
    private readonly wishes: OutageWishes,
  ) {}

  #start(): void {
    const { backlogPerS } = this.wishes;
    this.rig.start(
      this.receivers.map(({ kind, port, keys }) => ({
        ...{ name: kind, backlogPerS, deadlineMs: 5_000, retryMostMs: 1_000 },
        ...keys(port),
      })),
    );
  }

  /** Everything goes well for an hour; then the receivers are gone, and days pass. */
  async loseReceivers(): Promise<void> {
    const { rig, receivers, wishes } = this;
    const names = wishes.kinds;
    rig.passHours(BEFORE_HOURS);
    this.#start();
    await rig.untilForwarded(names, wishes.patienceMs);
    for (const receiver of receivers) await receiver.held();
    await rig.stopForwarder();
    for (const { mortals } of receivers) for (const mortal of mortals) await mortal.kill();
    rig.passHours(wishes.hours);
    this.#start();
    for (let i = 0; i < 4; i++) await this.#closeLive();
    const statuses = names.map((name) => rig.statusOf(name));
    this.#waited = Math.max(...statuses.map((one) => (one?.backlog ?? 0) + (one?.waitingLive ?? 0)));
    wishes.tell(`${wishes.hours} h without receivers: ${this.#waited} records wait for each`);
  }

  async #closeLive(): Promise<void> {
    const { rig, wishes } = this;
    const start = rig.startAt + rig.minute * MINUTE_MS;
    const now = Date.now();
    for (const sensor of rig.sensors) this.#live.set(`${sensor}|1m|${start}`, now);
    rig.closeMinute(now);
    await sleep(wishes.liveEveryMs);
  }

  /** Live minutes come all the while. */
  async drain(): Promise<void> {
    const { rig, receivers, wishes } = this;
    await Promise.all(
      receivers.map(async ({ mortals }) => {
        for (const mortal of mortals) await mortal.start();
      }),
    );
    // what was committed before they were back could not arrive
    this.#live.clear();
    const begun = Date.now();
    while (this.#drainMs.size < receivers.length) {
      await this.#closeLive();
      if (Date.now() - begun > wishes.patienceMs)
        throw new Error(`not drained in time: ${JSON.stringify(rig.host.status())}\n${rig.log.join('\n')}`);
      for (const { kind } of receivers) {
        const status = rig.statusOf(kind);
        if (status === null || status.backlog > 0 || status.state !== 'live') continue;
        if (!this.#drainMs.has(kind)) this.#drainMs.set(kind, Date.now() - begun);
      }
    }
    await rig.untilForwarded(wishes.kinds, wishes.patienceMs);
  }

  async judge(): Promise<OutageReport> {
    const { rig, receivers } = this;
    const stored = readStored(rig.dataDir);
    const findings: string[] = [];
    const results: OutageResult[] = [];
    for (const { kind, held, countArrivals } of receivers) {
      const rows = await held();
      const names = rows.map(({ stream, key, revision }) => nameRow(stream, key, revision));
      findings.push(...compareRows(kind, stored, new Set(names)));
      if (new Set(names).size !== names.length) findings.push(`${kind} has rows twice`);
      const at = new Map(rows.map((row) => [row.key, row.at]));
      const lags = [...this.#live].map(([key, madeAt]) => (at.get(key) ?? Infinity) - madeAt);
      const worstLagMs = Math.max(0, ...lags);
      if (worstLagMs >= LAG_MS_MOST) findings.push(`${kind}: a live record took ${worstLagMs} ms`);
      results.push({
        ...{ kind, worstLagMs, drained: this.#waited, drainMs: this.#drainMs.get(kind)! },
        ...{ live: this.#live.size, rows: names.length },
      });
      findings.push(...(await this.#judgeLedger(kind, countArrivals())));
    }
    return { results, findings };
  }

  /** `arrivals`: at the receiver, doubles included; null: it does not count. */
  async #judgeLedger(kind: NetworkKind, arrivals: number | null): Promise<string[]> {
    const { isBalanced, lines, losses } = await this.rig.ledger(kind);
    const findings = lines
      .filter(({ produced, delivered, superseded }) => produced !== delivered + superseded)
      .map((line) => `${kind}: the ledger is not closed: ${JSON.stringify(line)}`);
    if (!isBalanced) findings.push(`${kind}: the ledger does not add up`);
    if (losses.length > 0) findings.push(`${kind} has losses: ${JSON.stringify(losses)}`);
    if (lines.every(({ superseded }) => superseded === 0)) findings.push(`${kind}: nothing was superseded`);
    const delivered = lines.reduce((sum, line) => sum + line.delivered, 0);
    // a host is sent again what may not have reached it
    if (arrivals !== null && kind !== 'sparkplug' && arrivals !== delivered)
      findings.push(`${kind} got ${arrivals} records, and ${delivered} stand as delivered`);
    return findings;
  }
}
