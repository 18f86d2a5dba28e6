/** The proof of the ledger balances what is right, finds whatever was altered, and says where. */
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Increment } from '../../src/core/rows.js';
import { Class, Flag } from '../../src/core/words.js';
import { proveLedger, type LedgerQuery, type SensorLedger } from '../../src/store/ledger.js';
import { openReader } from '../../src/store/reader.js';
import { openStore } from '../../src/store/store.js';
import { balancedCounter, commit, increment, makeFolder, outputs, segment, START } from './sample-rows.js';

let folder: ReturnType<typeof makeFolder>;
beforeEach(() => {
  folder = makeFolder();
});
afterEach(() => folder.remove());

function write(...batches: ReturnType<typeof outputs>[]): void {
  const store = openStore(folder.dir);
  for (const batch of batches) commit(store, batch);
  store.close();
}

function prove(query: Partial<LedgerQuery> = {}): SensorLedger[] {
  const reader = openReader(folder.dir);
  try {
    return proveLedger(reader, { sensor: null, from: null, to: null, ...query });
  } finally {
    reader.close();
  }
}

function alter(sql: string): void {
  const db = new Database(join(folder.dir, 'tallypost.db'));
  expect(db.prepare(sql).run().changes).toBe(1);
  db.close();
}

describe('a ledger that balances', () => {
  it('counts what the counter counted, by class', () => {
    const out = balancedCounter(3000);
    const last = out.segments[0]!;
    for (const row of out.increments.slice(1, 500)) row.class = Class.background;
    out.increments[2999]!.class = Class.pending;
    write(out, balancedCounter(10, { sensor: 'pump-2/de', chain: 2 }));
    const [ledger, other] = prove();
    expect(ledger).toMatchObject({ sensor: 'pump-1/de', balanced: true, faults: [], unknown: [] });
    expect(ledger!.counted).toBe(last.lastCount - last.firstCount);
    expect(ledger!.classified + ledger!.pending).toBe(ledger!.counted);
    expect(ledger!.pending).toBe(out.increments[2999]!.pulses);
    expect(ledger!.ms[Class.background]).toBe(499 * 10_000);
    expect(other!.balanced).toBe(true);
    expect(prove({ sensor: 'pump-2/de' })).toEqual([other]);
    expect(prove({ sensor: 'pump-9/de' })).toEqual([]);
  });

  it('holds through wraps, torn readings, and a counter without seq', () => {
    const rows: Increment[] = [
      increment({
        to: START,
        from: START,
        seq: null,
        count: 65_000,
        pulses: 0,
        class: 0,
        flags: Flag.anchor,
      }),
      increment({ to: START + 1, seq: null, count: 200, pulses: 736, flags: Flag.wrapped }),
      increment({ to: START + 2, seq: null, count: 9, pulses: 0, class: 0, flags: Flag.torn }),
      increment({ to: START + 3, seq: null, count: 300, pulses: 100 }),
    ];
    const own = segment({ startSeq: -1, firstCount: 65_000, wraps: 1, modulus: 65_536 });
    Object.assign(own, { lastTo: START + 3, lastSeq: -1, lastCount: 300 });
    write(
      outputs({
        chains: [{ id: 1, sensor: 'pump-1/de', device: 'a', boot: null }],
        increments: rows,
        segments: [own],
      }),
    );
    expect(prove()[0]).toMatchObject({ balanced: true, counted: 836, faults: [] });
  });

  it('readings in the order of seq whose times go back', () => {
    const out = balancedCounter(3000);
    out.increments.forEach((row, i) => {
      if (i > 1200 && i < 2400) Object.assign(row, { to: row.to - 86_400_000, from: row.from - 86_400_000 });
    });
    write(out);
    expect(prove()[0]).toMatchObject({ balanced: true, faults: [] });
  });

  it('lists what nobody can know beside it', () => {
    const out = balancedCounter(10);
    Object.assign(out.segments[0]!, {
      ...{ unknownReason: 'power-cut', unknownFrom: START - 500, unknownTo: START },
      ...{ unknownLow: 3, unknownHigh: 700 },
    });
    write(out);
    const stretch = { reason: 'power-cut', from: START - 500, to: START, least: 3, most: 700 };
    expect(prove()[0]).toMatchObject({ balanced: true, unknown: [stretch] });
    expect(prove({ from: START + 1e9 })[0]).toMatchObject({ counted: 0, unknown: [] });
  });
});

describe('a ledger that was tampered with', () => {
  const where = 'WHERE (sensor, to_ms) = (SELECT sensor, to_ms FROM increment WHERE seq = 1500)';

  it.each([
    ['pulses of a reading', `UPDATE increment SET pulses = pulses + 1 ${where}`],
    ['the count of a reading', `UPDATE increment SET count = count + 1 ${where}`],
    ['pulses moved from one reading to no reading', `UPDATE increment SET pulses = 0 ${where}`],
    ['a reading taken out', `DELETE FROM increment ${where}`],
    [
      'a reading put in',
      `INSERT INTO increment SELECT sensor, to_ms + 1, chain, 900000, 1, count, NULL, 5, 6, 0, 0, NULL, NULL FROM increment ${where}`,
    ],
    ['the last count of the segment', 'UPDATE segment SET last_count = last_count + 1'],
    ['the first count of the segment', 'UPDATE segment SET first_count = first_count - 1'],
    ['a wrap that was none', 'UPDATE segment SET wraps = 1'],
  ])('%s: does not balance', (_, sql) => {
    write(balancedCounter(3000), balancedCounter(10, { sensor: 'pump-2/de', chain: 2 }));
    alter(sql.startsWith('UPDATE segment') ? `${sql} WHERE chain = 1` : sql);
    const [ledger, other] = prove();
    expect(ledger!.balanced).toBe(false);
    expect(ledger!.faults[0]).toContain('pump-1/de');
    expect(other!.balanced).toBe(true);
  });

  it('the place is told', () => {
    write(balancedCounter(3000));
    alter(`UPDATE increment SET pulses = pulses + 1 ${where}`);
    expect(prove()[0]!.faults[0]).toContain(new Date(START + 15_000_000).toISOString());
  });

  it('thousands of faults are told in a hundred lines', () => {
    const out = balancedCounter(3000);
    for (const row of out.increments) row.pulses += 1;
    write(out);
    expect(prove()[0]!.faults.length).toBeLessThanOrEqual(100);
  });
});
