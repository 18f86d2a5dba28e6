/**
 * `node dist/tests/receivers/outage-main.js [--hours N] [--motors N] [--pace N] [--only KIND,…]`: the long run of an outage, at
 * real receivers of every network sink. Ends with 1 on any finding.
 */
import { parseArgs } from 'node:util';
import { NETWORK_KINDS, type NetworkKind } from './network-receiver.js';
import { runOutage } from './outage.js';
import { KINDS_HERE, MISSING_RECEIVERS } from './receiver-hall.js';

const { values } = parseArgs({
  options: {
    hours: { type: 'string', default: '72' },
    motors: { type: 'string', default: '10' },
    pace: { type: 'string', default: '2000' },
    only: { type: 'string', default: KINDS_HERE.join(',') },
  },
});
if (MISSING_RECEIVERS !== null) console.warn(MISSING_RECEIVERS);
const kinds = values.only.split(',') as NetworkKind[];
for (const kind of kinds)
  if (!NETWORK_KINDS.includes(kind)) throw new Error(`no sink "${kind}": one of ${NETWORK_KINDS.join(', ')}`);
const sensors = Array.from({ length: Number(values.motors) }, (_, i) => [
  `pump-${i}/de`,
  `pump-${i}/nde`,
]).flat();
const { results, findings } = await runOutage({
  ...{ kinds, hours: Number(values.hours), sensors, backlogPerS: Number(values.pace) },
  ...{ liveEveryMs: 1_000, patienceMs: 1_800_000, tell: (line) => console.log(line) },
});
for (const { kind, drained, drainMs, live, worstLagMs, rows } of results)
  console.log(
    `${kind}: ${drained} records drained in ${(drainMs / 1_000).toFixed(1)} s (${Math.round((drained / drainMs) * 1_000)}/s), ` +
      `${live} live ones meanwhile, the slowest in ${worstLagMs} ms; ${rows} rows`,
  );
for (const finding of findings) console.log(`  ${finding}`);
console.log(`${findings.length} findings`);
process.exitCode = findings.length === 0 ? 0 : 1;
