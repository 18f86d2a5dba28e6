/**
 * `npm run score [-- --seed N --small --fleets N --json FILE --markdown FILE --thresholds]`: detection quality on simulated fleets with
 * known truth. Ends with 1 when a target is not met. `--thresholds` prints the table of rise-threshold.ts instead.
 */
import { writeFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { judge, writeReport } from './report.js';
import { FULL, runScore, SMALL } from './run.js';
import { findThresholds, RUN_LENGTHS_H } from './thresholds.js';

const { values } = parseArgs({
  options: {
    seed: { type: 'string', default: '1' },
    fleets: { type: 'string' },
    small: { type: 'boolean', default: false },
    json: { type: 'string' },
    markdown: { type: 'string' },
    thresholds: { type: 'boolean', default: false },
  },
});
const seed = Number(values.seed);
if (!Number.isInteger(seed)) throw new Error(`--seed must be a whole number, not "${values.seed}"`);

function seconds(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1e6;
}

if (values.thresholds) {
  console.log(`effective pulses an hour, heights at run lengths of ${RUN_LENGTHS_H.join(', ')} h`);
  for (const { effective, heights } of findThresholds(seed, 4000, 1500))
    console.log(`[${effective}, [${heights.map((height) => height.toFixed(2)).join(', ')}]],`);
} else {
  const tell = (line: string): void => console.error(`${seconds().toFixed(0).padStart(5)} s  ${line}`);
  const size = values.small ? SMALL : FULL;
  const fleets = values.fleets === undefined ? size.fleets : Number(values.fleets);
  const score = runScore(seed, { ...size, fleets }, tell, seconds);
  const report = writeReport(score);
  console.log(report);
  if (values.json !== undefined) writeFileSync(values.json, `${JSON.stringify(score, null, 1)}\n`);
  if (values.markdown !== undefined) writeFileSync(values.markdown, report);
  if (judge(score).some(({ met }) => !met)) process.exitCode = 1;
}
