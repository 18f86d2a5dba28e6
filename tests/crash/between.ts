/**
 * The crash that matters most, at its exact place: on either side of a commit, before its acknowledgements have left.
 * After it, what was committed is stored although nobody was told; sent again, it must not count twice.
 */
import { join } from 'node:path';
import { freePort, sleep } from '../support/child.js';
import { launchGatewayProcess } from '../support/gateway-process.js';
import { SITE, writeCrashPlant } from './plant.js';
import { Publisher } from './publisher.js';
import { countStored, judgeFiles, judgeLedger, judgeReadings } from './verdict.js';

export interface BetweenReport {
  /** readings stored when the process was gone, beyond those acknowledged */
  readonly storedUntold: number;
  readonly acknowledged: number;
  readonly findings: readonly string[];
}

const PATIENCE_MS = 30_000;

/** `commit`: which transaction of the process, from 1. */
export async function crashBetween(
  folder: string,
  side: 'before' | 'after',
  commit: number,
): Promise<BetweenReport> {
  const dataDir = join(folder, 'data');
  const configFile = writeCrashPlant(folder, ['m1']);
  const ports = { mqtt: await freePort(), http: await freePort() };
  const first = await launchGatewayProcess({
    configFile,
    dataDir,
    ports,
    preload: 'tests/crash/kill-at-commit.js',
    env: { CRASH_AT: side, CRASH_COMMIT: String(commit) },
  });
  const publisher = new Publisher({
    site: SITE,
    motor: 'm1',
    port: ports.mqtt,
    window: 10,
    paceMs: 0,
    echo: 0,
  });
  try {
    const timer = setTimeout(() => first.child.process.kill('SIGTERM'), PATIENCE_MS);
    const { signal } = await first.child.ended;
    clearTimeout(timer);
    if (signal !== 'SIGKILL') throw new Error(`commit ${commit} never came:\n${first.child.said()}`);
    await sleep(50); // what the kernel still holds for the publisher
    const ackedBefore = publisher.acked;
    const storedUntold = (await countReadings(dataDir, publisher.sensor)) - ackedBefore;

    const second = await launchGatewayProcess({ configFile, dataDir, ports });
    await second.untilLive();
    await publisher.finish(PATIENCE_MS);
    await second.stop();
    const findings = [
      ...judgeFiles(dataDir),
      ...(await judgeLedger(dataDir)),
      ...(await judgeReadings(dataDir, [publisher])),
    ];
    if (storedUntold < 0) findings.push(`${-storedUntold} readings were acknowledged and not stored`);
    return { storedUntold, acknowledged: publisher.acked, findings };
  } finally {
    publisher.close();
    first.child.process.kill('SIGKILL');
  }
}

/** A process that ended before its first commit leaves a database without tables, and export says so. */
async function countReadings(dataDir: string, sensor: string): Promise<number> {
  try {
    return (await countStored(dataDir)).get(sensor) ?? 0;
  } catch (error) {
    if (error instanceof Error && error.message.includes('has schema 0')) return 0;
    throw error;
  }
}
