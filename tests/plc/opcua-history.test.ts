/** How much of the past one request may bring: all that was asked for, or a refusal, never a part that looks like all. */
import { expect, it } from 'vitest';
import { installHistory } from '../../src/plc/opcua-history.js';
import { loadOpcuaParts } from '../../src/plc/opcua-package.js';
import type { HistoryRow, HistoryWish } from '../../src/plc/wishes.js';

const MINUTE_MS = 60_000;
const START = Date.UTC(2026, 8, 1);
/** Two weeks of minutes, the first and the last included. */
const MOST = 20_161;

interface Found {
  readonly sourceTimestamp: Date;
}
type Extract = (
  details: { startTime: Date | null; endTime: Date | null; numValuesPerNode: number },
  most: number,
  isReversed: boolean,
  doReverse: boolean,
  done: (error: Error | null, values?: Found[]) => void,
) => void;

/** The reader of a plant that has a row for every minute. */
function install(): Extract {
  let extract: Extract | null = null;
  const addressSpace = {
    installHistoricalDataNode: (
      _variable: unknown,
      { historian }: { historian: { extractDataValues: Extract } },
    ) => (extract = historian.extractDataValues),
  };
  const ask = ({ from, to, limit }: HistoryWish): Promise<HistoryRow[]> => {
    const rows: HistoryRow[] = [];
    const first = Math.ceil(from / MINUTE_MS) * MINUTE_MS;
    for (let start = first; start < to && rows.length < limit; start += MINUTE_MS)
      rows.push({ start, pulses: 1, ms: MINUTE_MS, isUncertain: false });
    return Promise.resolve(rows);
  };
  const link = { clock: { now: () => START }, ask };
  installHistory(loadOpcuaParts(), addressSpace as never, {} as never, 'pump-1/de', link as never);
  return extract!;
}

/** From the start, or null for backwards from the end; `most` 0: all. The times of what comes, as minutes from the start. */
function read(fromMinute: number | null, toMinute: number, most = 0): Promise<number[]> {
  const timeOf = (minute: number): Date => new Date(START + minute * MINUTE_MS);
  const details = {
    startTime: fromMinute === null ? null : timeOf(fromMinute),
    endTime: timeOf(toMinute),
    numValuesPerNode: most,
  };
  return new Promise((resolve, reject) => {
    install()(details, most, fromMinute === null, false, (error, values) => {
      if (error !== null) reject(error);
      else resolve(values!.map(({ sourceTimestamp }) => (sourceTimestamp.getTime() - START) / MINUTE_MS));
    });
  });
}

it('two weeks of minutes come whole, the newest among them', async () => {
  const minutes = await read(0, MOST - 1);
  expect([minutes.length, minutes[0], minutes.at(-1)]).toEqual([MOST, 0, MOST - 1]);
});

it.each([MOST, MOST + 1, MOST + 838, MOST + 839, MOST + 5_000])(
  'of the minutes 0 to %i, which are too many, none come',
  async (toMinute) => {
    await expect(read(0, toMinute)).rejects.toThrow(/more than 20161 values: ask for a shorter time/);
  },
);

it('so many as were asked for come of a longer time, and no more than may', async () => {
  expect((await read(0, 50_000, 1_500)).at(-1)).toBe(1_499);
  expect((await read(0, 50_000, MOST)).length).toBe(MOST);
  await expect(read(0, 50_000, MOST + 1)).rejects.toThrow(/more than 20161/);
});

it('backwards from the end the newest come first, up to the most', async () => {
  expect(await read(null, 100_000, 3)).toEqual([100_000, 99_999, 99_998]);
  const minutes = await read(null, 100_000, MOST);
  expect([minutes.length, minutes[0], minutes.at(-1)]).toEqual([MOST, 100_000, 100_000 - MOST + 1]);
  await expect(read(null, 100_000, MOST + 1)).rejects.toThrow(/ask for fewer/);
});
