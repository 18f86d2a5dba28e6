/** The command `journal`: what it answers, with which exit code, and what it says to do. */
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { journalProofBody } from '../../src/api/journal-bodies.js';
import { makeFolder } from '../store/sample-rows.js';
import { tamper, writeEntries } from '../store/journal-rig.js';
import { runTallypost } from './recorder.js';

let folder: ReturnType<typeof makeFolder>;
beforeEach(() => {
  folder = makeFolder();
  writeEntries(folder.dir, 0, 12);
});
afterEach(() => folder.remove());

const journal = (...argv: string[]) => runTallypost('journal', ...argv, '--data', folder.dir);

describe('journal verify', () => {
  it('of a journal as it was written says so with the digest to note, exit 0', async () => {
    const { code, out } = await journal('verify');
    expect(code).toBe(0);
    expect(out).toContain('as it was written: 12 entries');
    expect(out).toContain('note this one');
    const json = await journal('verify', '--json');
    const proof = journalProofBody.parse(JSON.parse(json.out));
    expect(proof).toMatchObject({ intact: true, entries: 12, fault: null, head: { id: 12 } });
    expect(out).toContain(proof.head!.digest);
    const noted = await journal('verify', '--expect', proof.head!.digest);
    expect([noted.code, noted.out]).toEqual([0, expect.stringContaining('is that of entry 12')]);
    for (const line of out.split('\n')) expect(line.length, line).toBeLessThanOrEqual(100);
  });

  it('names the first entry that is not, and what to do, exit 1', async () => {
    tamper(folder.dir, `UPDATE journal SET who = 'Nobody' WHERE id = 5`);
    const { code, out } = await journal('verify');
    expect(code).toBe(1);
    expect(out.replaceAll(/\s+/g, ' ')).toContain(
      'NOT as it was written. Entry 5 is not what was written: it, or its digest, was altered. The 4 entries before it are as they were written.',
    );
    expect(out).toContain('tallypost backup');
    const json = await journal('verify', '--json');
    expect([json.code, journalProofBody.parse(JSON.parse(json.out))]).toMatchObject([
      1,
      { intact: false, fault: { kind: 'altered', id: 5 } },
    ]);
  });

  it('a digest that is not met is a no', async () => {
    const { code, out } = await journal('verify', '--expect', 'ab'.repeat(32));
    expect(code).toBe(1);
    expect(out.replaceAll(/\s+/g, ' ')).toContain('No entry has the digest that was expected');
  });

  it.each([
    [['verify', '--expect', 'abc'], 'is no digest'],
    [['verify', '--from', '2026-03-02T06:00:00Z'], '--from has no meaning for "journal verify"'],
    [['export', '--json'], '--json has no meaning for "journal export"'],
    [['verfy'], 'Did you mean verify?'],
    [['export', '--kind', 'alarms'], 'Did you mean alarm?'],
  ])('%j is a mistake of usage', async (argv, told) => {
    const { code, err } = await journal(...argv);
    expect(code).toBe(2);
    expect(err).toContain(told);
  });
});

describe('journal export', () => {
  const parse = (text: string): Record<string, unknown>[] =>
    text
      .trimEnd()
      .split('\n')
      .map((line) => JSON.parse(line) as Record<string, unknown>);

  it('has both times, who, what, the words, evidence, configuration and digest', async () => {
    const rows = parse((await journal('export')).out);
    expect(rows).toHaveLength(12);
    expect(Object.keys(rows[0]!)).toEqual(
      'at detected_at kind subject from to who text evidence what annunciated configuration id digest'.split(
        ' ',
      ),
    );
    expect(rows[1]).toMatchObject({ id: 2, who: 'J. Field', what: 'raised', configuration: 'a1b2c3' });
    const proof = journalProofBody.parse(JSON.parse((await journal('verify', '--json')).out));
    expect(rows[11]?.['digest']).toBe(proof.head!.digest);
  });

  it('narrows by time, subject and change, in CSV too', async () => {
    const [, second] = parse((await journal('export')).out);
    const from = ['--from', String(second?.['at'])];
    expect(parse((await journal('export', ...from)).out)).toHaveLength(11);
    const only = await journal('export', '--subject', 'pump-1.de-rate-high', '--what', 'raised');
    expect(parse(only.out).map((row) => row['id'])).toEqual([2, 6, 10]);
    const { out } = await journal('export', '--format', 'csv', '--kind', 'operator');
    expect(out).toMatch(/^at,detected_at,kind,[a-z_,]*,digest\n$/);
  });
});
