import { describe, expect, it } from 'vitest';
import {
  IMPORT_TABLE,
  judgeCycles,
  judgeExports,
  judgeImports,
  judgePurity,
  judgeReach,
  judgeSizes,
  roomOf,
} from './rules.js';
import { parseSource, readSources } from './sources.js';

const product = [...readSources('src'), ...readSources('shared')];
const simulator = readSources('simulator');
const tests = readSources('tests');
const all = [...product, ...simulator, ...tests];

describe('the house', () => {
  it('has the rooms that the table names', () => {
    const rooms = new Set([...product, ...simulator].map(({ path }) => roomOf(path)));
    for (const room of rooms) expect([...Object.keys(IMPORT_TABLE), 'main', 'gateway']).toContain(room);
  });

  it('each room imports only what the table allows', () => {
    expect(judgeImports([...product, ...simulator])).toEqual([]);
  });

  it('core, stats and advice are pure', () => {
    expect(judgePurity(product)).toEqual([]);
  });

  it('files have at most 300 lines, functions at most 70', () => {
    expect(judgeSizes(all)).toEqual([]);
  });

  it('has no default exports, no barrels, no names that say nothing', () => {
    expect(judgeExports([...product, ...simulator])).toEqual([]);
  });

  it('has no circles among its imports', () => {
    expect(judgeCycles(all)).toEqual([]);
  });

  it('has no file that nothing uses: the program reaches all of src, programs and tests the rest', () => {
    const tools = product.map(({ path }) => path).filter((path) => path.startsWith('shared/tools/'));
    const entries = ['src/main.ts', 'src/page/main.tsx', 'simulator/main.ts', 'simulator/demo.ts', ...tools];
    const unreached = judgeReach([...product, ...simulator], entries);
    expect(unreached.filter((finding) => finding.includes(' src/'))).toEqual([]);
    expect(judgeReach(all, [...entries, ...tests.map(({ path }) => path)])).toEqual([]);
  });
});

describe('the rules themselves', () => {
  it('a forbidden import is found, as a value and as a type', () => {
    const bad = parseSource(
      'src/core/step.ts',
      "import { open } from '../store/open.js';\nimport type { Topic } from '../../shared/topics.js';",
    );
    expect(judgeImports([bad])).toEqual(['src/core/step.ts imports ../store/open.js of store']);
    const value = parseSource('src/stats/poisson.ts', "import { units } from '../../shared/units.js';");
    expect(judgeImports([value])).toEqual([
      'src/stats/poisson.ts imports ../../shared/units.js of shared as a value; only types are allowed',
    ]);
  });

  it('a clock, chance, packages and any are found in the core; in other rooms they are none of this rule', () => {
    const text =
      "import { z } from 'zod';\nexport const now = (x: any) => Date.now() + Math.random() + process.pid;";
    expect(judgePurity([parseSource('src/core/clock.ts', text)])).toEqual([
      'src/core/clock.ts imports the package zod',
      'src/core/clock.ts:2 has any',
      'src/core/clock.ts:2 has Date',
      'src/core/clock.ts:2 has Math.random',
      'src/core/clock.ts:2 has process',
    ]);
    expect(judgePurity([parseSource('src/engine/clock.ts', text)])).toEqual([]);
    expect(
      judgePurity([parseSource('src/core/words.ts', 'export interface Entry { process: string }')]),
    ).toEqual([]);
  });

  it('long files and long functions are found', () => {
    const long = `function f() {\n${'g();\n'.repeat(70)}}\n`;
    expect(judgeSizes([parseSource('src/store/a.ts', long)])).toEqual([
      'src/store/a.ts:1 f has 72 lines, at most 70 are allowed',
    ]);
    expect(judgeSizes([parseSource('src/store/a.ts', 'g();\n'.repeat(301))])).toEqual([
      'src/store/a.ts has 301 lines, at most 300 are allowed',
    ]);
  });

  it('circles, barrels, default exports and unused files are found', () => {
    const a = parseSource('src/store/a.ts', "import { b } from './b.js';\nexport const a = b;");
    const b = parseSource('src/store/b.ts', "import { a } from './a.js';\nexport const b = a;");
    const c = parseSource('src/store/c.ts', "import type { a } from './a.js';\nexport default 1;");
    const barrel = parseSource('src/store/rows.ts', "export { a } from './a.js';\nexport * from './b.js';");
    expect(judgeCycles([a, b, c])).toEqual(['src/store/a.ts -> src/store/b.ts']);
    expect(judgeExports([c, barrel])).toEqual([
      'src/store/c.ts has a default export',
      'src/store/rows.ts exports everything of another file',
      'src/store/rows.ts only hands on what other files export',
    ]);
    expect(judgeReach([a, b, c], ['src/store/a.ts'])).toEqual(['nothing imports src/store/c.ts']);
  });
});
