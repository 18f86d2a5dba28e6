/** `node dist/tests/fuzz/main.js [--count N] [--seed N]`: the long fuzz run. Ends with 1 on any finding. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { runFuzz } from './run.js';

const { values } = parseArgs({
  options: {
    count: { type: 'string', default: '100000' },
    seed: { type: 'string', default: String(Date.now() % 1_000_000) },
  },
});
const folder = mkdtempSync(join(tmpdir(), 'tallypost-fuzz-'));
const seed = Number(values.seed);
const startedAt = performance.now();
console.log(`seed ${seed}`);
try {
  const report = await runFuzz({
    folder,
    count: Number(values.count),
    seed,
    connections: 12,
    memoryMax: 400e6,
    tell: (line) => console.log(line),
  });
  const minutes = ((performance.now() - startedAt) / 60_000).toFixed(1);
  for (const [kind, { sent, acknowledged, cut }] of Object.entries(report.byKind)) {
    console.log(`  ${kind.padEnd(24)} ${sent} sent, ${acknowledged} acknowledged, ${cut} connections cut`);
  }
  for (const reason of report.reasons) console.log(`  reason: ${reason}`);
  console.log(
    `${report.sent} sent in ${minutes} min; ${report.quarantined} in quarantine; memory at most ${(report.highestBytes / 1e6).toFixed(0)} MB; ` +
      `honest device: ${report.healthyAcknowledged} acknowledged, longest silence ${report.longestSilenceMs} ms; ${report.findings.length} findings`,
  );
  for (const finding of report.findings) console.log(`  ${finding}`);
  process.exitCode = report.findings.length === 0 ? 0 : 1;
} finally {
  rmSync(folder, { recursive: true, force: true });
}
