/**
 * The real gateway under rubbish: seeded, many connections at a time, with one honest device that must not notice.
 * Afterwards the process lives, its memory is bounded, what was refused is explained, and the ledger balances.
 */
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { Publisher } from '../crash/publisher.js';
import { judgeFiles, judgeLedger, judgeReadings } from '../crash/verdict.js';
import { readMemory } from '../support/child.js';
import { startGatewayProcess, type GatewayProcess } from '../support/gateway-process.js';
import { seedRandom } from '../support/seeded-random.js';
import { attack, ATTACK_KINDS, type AttackKind } from './attack.js';
import { FUZZED_MOTOR, SITE } from './packets.js';
import { readQuarantine } from './quarantine.js';

export interface FuzzWishes {
  readonly folder: string;
  /** malformed things to send */
  readonly count: number;
  readonly seed: number;
  readonly connections: number;
  readonly memoryMax: number;
  readonly tell: (line: string) => void;
}

export interface FuzzReport {
  readonly sent: number;
  readonly byKind: Readonly<Record<string, { sent: number; acknowledged: number; cut: number }>>;
  readonly highestBytes: number;
  readonly quarantined: number;
  readonly reasons: readonly string[];
  /** longest time in which the honest device got no acknowledgement */
  readonly longestSilenceMs: number;
  readonly healthyAcknowledged: number;
  readonly findings: readonly string[];
}

const HEALTHY = 'honest-device';
const PER_CONNECTION_MAX = 24;
const SILENCE_MAX_MS = 3_000;

function writeConfig(folder: string): string {
  mkdirSync(folder, { recursive: true });
  const file = join(folder, 'fuzz.yaml');
  const position = 'positions: { de: { intervalMs: 1000, maxRatePerS: 1000000 } }';
  writeFileSync(
    file,
    `site: ${SITE}\nmotors:\n  ${FUZZED_MOTOR}: { ${position} }\n  ${HEALTHY}: { ${position} }\n`,
  );
  return file;
}

export async function runFuzz(wishes: FuzzWishes): Promise<FuzzReport> {
  const dataDir = join(wishes.folder, 'data');
  const gateway = await startGatewayProcess({ configFile: writeConfig(wishes.folder), dataDir });
  const healthy = new Publisher({
    site: SITE,
    motor: HEALTHY,
    port: gateway.mqttPort,
    window: 1,
    paceMs: 10,
    echo: 0,
  });
  const watch = watchHealth(gateway, healthy);
  const findings: string[] = [];
  const byKind: Record<string, { sent: number; acknowledged: number; cut: number }> = {};
  try {
    await attackAll(gateway, wishes, byKind, findings);
    watch.stop();
    await healthy.finish(10_000);
    const quarantine = await readQuarantine(gateway.http);
    findings.push(...judgeQuarantine(quarantine, byKind));
    if (!gateway.child.isAlive()) findings.push('the gateway is gone');
    const highestBytes = readMemory(gateway.child.pid)?.highest ?? 0;
    if (highestBytes > wishes.memoryMax)
      findings.push(`memory rose to ${highestBytes} bytes, more than ${wishes.memoryMax}`);
    if (healthy.reconnects > 0) findings.push(`the honest device was cut ${healthy.reconnects} times`);
    if (watch.longestSilenceMs() > SILENCE_MAX_MS)
      findings.push(`the honest device got no acknowledgement for ${watch.longestSilenceMs()} ms`);
    await gateway.stop();
    findings.push(
      ...judgeFiles(dataDir),
      ...(await judgeLedger(dataDir)),
      ...(await judgeReadings(dataDir, [healthy])),
    );
    return {
      sent: Object.values(byKind).reduce((total, kind) => total + kind.sent, 0),
      byKind,
      highestBytes,
      quarantined: quarantine.length,
      reasons: [...new Set(quarantine.map(({ reason }) => reason))].sort(),
      longestSilenceMs: watch.longestSilenceMs(),
      healthyAcknowledged: healthy.acked,
      findings,
    };
  } finally {
    watch.stop();
    healthy.close();
    await gateway.stop();
  }
}

/** Every worker draws its kind and amount from the one stream of numbers, so that a seed names what is sent. */
async function attackAll(
  gateway: GatewayProcess,
  wishes: FuzzWishes,
  byKind: FuzzReport['byKind'],
  findings: string[],
): Promise<void> {
  const random = seedRandom(wishes.seed);
  const tally = byKind as Record<string, { sent: number; acknowledged: number; cut: number }>;
  let left = wishes.count;
  let turn = 0;
  const work = async (): Promise<void> => {
    while (left > 0 && findings.length < 20) {
      const kind = ATTACK_KINDS[turn++ % ATTACK_KINDS.length] as AttackKind;
      const count = Math.min(left, 1 + Math.floor(random() * PER_CONNECTION_MAX));
      const own = seedRandom(Math.floor(random() * 2 ** 31));
      left -= count;
      if (turn % 500 === 0)
        wishes.tell(
          `${wishes.count - left} sent, ${((readMemory(gateway.child.pid)?.now ?? 0) / 1e6).toFixed(0)} MB`,
        );
      const entry = (tally[kind] ??= { sent: 0, acknowledged: 0, cut: 0 });
      try {
        const outcome = await attack(gateway.mqttPort, own, kind, count);
        entry.acknowledged += outcome.acknowledged;
        if (outcome.cutByGateway) entry.cut += 1;
      } catch (error) {
        findings.push(error instanceof Error ? error.message : String(error));
      }
      entry.sent += count;
      if (!gateway.child.isAlive()) {
        findings.push(`the gateway died after ${kind}:\n${gateway.child.said().slice(-2_000)}`);
        return;
      }
    }
  };
  await Promise.all(Array.from({ length: wishes.connections }, work));
}

/** Every kind of damaged payload that was acknowledged left a row that says why; no row is without a reason. */
function judgeQuarantine(
  rows: readonly { reason: string; client: string }[],
  byKind: FuzzReport['byKind'],
): string[] {
  const findings: string[] = [];
  const silent = rows.filter(({ reason }) => reason.trim() === '').length;
  if (silent > 0) findings.push(`${silent} rows in quarantine have no reason`);
  for (const [kind, { acknowledged }] of Object.entries(byKind)) {
    if (!kind.startsWith('payload-') || acknowledged === 0) continue;
    if (!rows.some(({ client }) => client.startsWith(`fuzz-${kind}-`)))
      findings.push(`${kind}: acknowledged, and nothing in quarantine says why it is not counted`);
  }
  return findings;
}

function watchHealth(
  gateway: GatewayProcess,
  healthy: Publisher,
): { stop(): void; longestSilenceMs(): number } {
  let longest = 0;
  let acked = healthy.acked;
  let since = Date.now();
  const timer = setInterval(() => {
    if (healthy.acked !== acked) {
      acked = healthy.acked;
      since = Date.now();
    } else if (gateway.child.isAlive()) longest = Math.max(longest, Date.now() - since);
  }, 20);
  return { stop: () => clearInterval(timer), longestSilenceMs: () => longest };
}
