/** `node dist/tests/crash/forward-main.js [--kills N] [--seed N] [--keep]`: the long crash run of forwarding. Ends with 1 on any finding. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { runForwardCrashes } from './forward-run.js';

const { values } = parseArgs({
  options: {
    kills: { type: 'string', default: '100' },
    seed: { type: 'string', default: String(Date.now() % 1_000_000) },
    keep: { type: 'boolean', default: false },
  },
});
const folder = mkdtempSync(join(tmpdir(), 'tallypost-forward-'));
const seed = Number(values.seed);
const startedAt = performance.now();
console.log(`seed ${seed}`);
const report = await runForwardCrashes({
  ...{ folder, kills: Number(values.kills), seed },
  tell: (line) => console.log(line),
});
const minutes = ((performance.now() - startedAt) / 60_000).toFixed(1);
console.log(
  `${values.kills} kills of the gateway and of each receiver in ${minutes} min: ${report.rows} rows, ${report.findings.length} findings`,
);
for (const finding of report.findings) console.log(`  ${finding}`);
if (values.keep) console.log(`data kept in ${folder}`);
else rmSync(folder, { recursive: true, force: true });
process.exitCode = report.findings.length === 0 ? 0 : 1;
