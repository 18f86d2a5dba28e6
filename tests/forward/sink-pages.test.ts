/** What the pages of the sinks postgres and sparkplug show: it is what the program does. Needs postgresql. */
import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { parseConfig } from '../../src/config/parse.js';
import { formatProblem } from '../../src/config/problem.js';
import { defineAll } from '../../src/forward/postgres/definitions.js';
import { findPostgres, startCluster, WITHOUT_POSTGRES } from '../support/postgres-cluster.js';
import { SCHEMA, sendAll, startSink } from './postgres/rig.js';
import { DAY, manifestRecord, rollupRecord, rollupRow, SENSORS, sumManifests } from './sample-records.js';

/** Blocks of one language in a page of the documentation. */
function readBlocks(page: string, language: string): string[] {
  const text = readFileSync(new URL(`../../docs/${page}`, import.meta.url), 'utf8');
  return [...text.matchAll(/^```(\w+)\n([\s\S]*?)^```/gm)].flatMap(([, of, block]) =>
    of === language ? [block!] : [],
  );
}

it.each(['sink-postgres.md', 'sink-sparkplug.md'])(
  'the template of %s is taken by the configuration',
  (page) => {
    const [block] = readBlocks(page, 'yaml');
    const plain = 'site: tarn-hollow\nmotors: { booster-4: { positions: { de: {} } } }\n';
    const result = parseConfig(`${plain}${block}`, 'plant.yaml');
    expect(result.ok ? [] : result.problems.map(formatProblem)).toEqual([]);
    const withAll = block!.replaceAll(/^( +)# (\w+:)/gm, '$1$2');
    const more = parseConfig(`${plain}${withAll}`, 'plant.yaml');
    expect(more.ok ? [] : more.problems.map(formatProblem)).toEqual([]);
  },
);

it('the statements of the documentation are those that prepare runs', () => {
  const documented = readFileSync(new URL('../../docs/sink-postgres.sql', import.meta.url), 'utf8');
  const statements = documented
    .split('\n')
    .filter((line) => !line.startsWith('--'))
    .join('\n')
    .trim();
  expect(statements).toBe(`${defineAll('tallypost').join(';\n')};`);
});

const bin = findPostgres();
if (bin === null) it(WITHOUT_POSTGRES, () => console.warn(WITHOUT_POSTGRES));
else
  it('the query of the documentation finds what is missing, and nothing when nothing is', async () => {
    const cluster = await startCluster(bin, { settings: ['fsync = off'] });
    const sink = await startSink(cluster.port);
    const client = await cluster.connect();
    const rows = SENSORS.flatMap((sensor) =>
      [0, 1, 2].map((minute) => rollupRow(sensor, DAY + minute * 60_000, minute)),
    );
    const manifests = sumManifests(rows, DAY, '1m').map((manifest) => manifestRecord(manifest));
    await sendAll(sink, [...rows.map((row) => rollupRecord(row)), ...manifests]);
    const [query] = readBlocks('sink-postgres.md', 'sql');
    expect((await client.query(query!)).rows).toEqual([]);
    await client.query(`DELETE FROM ${SCHEMA}.rollups WHERE sensor = '${SENSORS[1]}' AND revision = 1`);
    const { rows: found } = await client.query<Record<string, unknown>>(query!);
    expect(found).toMatchObject([{ sensor: SENSORS[1], period: '1m', told: '3', held: '2' }]);
    await sink.close();
    await client.end();
    await cluster.remove();
  });
