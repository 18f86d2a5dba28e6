/** `node dist/tests/crash/main.js [--kills N] [--seed N] [--pace-ms N] [--keep]`: the long crash run. Ends with 1 on any finding. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { runCrashes } from './run.js';

const { values } = parseArgs({
  options: {
    kills: { type: 'string', default: '1000' },
    seed: { type: 'string', default: String(Date.now() % 1_000_000) },
    'pace-ms': { type: 'string', default: '5' },
    keep: { type: 'boolean', default: false },
  },
});
const folder = mkdtempSync(join(tmpdir(), 'tallypost-crash-'));
const seed = Number(values.seed);
const startedAt = performance.now();
console.log(`seed ${seed}`);
const report = await runCrashes({
  folder,
  kills: Number(values.kills),
  seed,
  window: 10,
  paceMs: Number(values['pace-ms']),
  tell: (line) => console.log(line),
});
const minutes = ((performance.now() - startedAt) / 60_000).toFixed(1);
console.log(
  `${report.kills} kills (${report.killsWhileStarting} of them while it started) in ${minutes} min: ${report.acknowledged} readings acknowledged, ${report.findings.length} findings`,
);
for (const finding of report.findings) console.log(`  ${finding}`);
if (values.keep) console.log(`data kept in ${folder}`);
else rmSync(folder, { recursive: true, force: true });
process.exitCode = report.findings.length === 0 ? 0 : 1;
