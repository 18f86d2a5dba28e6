/** History of rates, read from the gateway's minutes when somebody asks; nothing is kept here. */
import type { AddressSpace, UAVariable } from 'node-opcua-address-space';
import type { DataValue } from 'node-opcua-data-value';
import type { OpcuaParts } from './opcua-package.js';
import type { ServerLink } from './server-link.js';
import { HISTORY_ROWS_MAX, type HistoryRow, type HistoryWish } from './wishes.js';

const MINUTE_MS = 60_000;
/**
 * Most values of one request: two weeks of minutes, the first and the last included. More is refused, because part of it
 * would look like all of it.
 */
const VALUES_MAX = 20_161;

interface ReadDetails {
  readonly startTime: Date | null;
  readonly endTime: Date | null;
  readonly numValuesPerNode: number;
}

type Done = (error: Error | null, values?: DataValue[]) => void;

/** Installs the reading of history on the trailing rate of a sensor. */
export function installHistory(
  parts: OpcuaParts,
  addressSpace: AddressSpace,
  variable: UAVariable,
  sensor: string,
  link: ServerLink,
): void {
  addressSpace.installHistoricalDataNode(variable, {
    historian: {
      push: () => Promise.resolve(),
      extractDataValues(
        details: ReadDetails,
        most: number,
        isReversed: boolean,
        doReverse: boolean,
        done: Done,
      ) {
        readValues(parts, link, sensor, details, most, isReversed)
          .then((values) => done(null, doReverse ? values.reverse() : values))
          .catch((error: unknown) => done(error instanceof Error ? error : new Error(String(error))));
      },
    },
  });
}

/** A date before 1970 means that the client gave none. */
function timeOf(date: Date | null, otherwise: number): number {
  return date === null || date.getTime() <= 0 ? otherwise : date.getTime();
}

/** `most` 0: all. `isReversed`: the newest first, backwards from the end. */
async function readValues(
  parts: OpcuaParts,
  link: ServerLink,
  sensor: string,
  details: ReadDetails,
  most: number,
  isReversed: boolean,
): Promise<DataValue[]> {
  const to = timeOf(details.endTime, link.clock.now());
  // backwards from the end: as many minutes as there may be values, and one may lie on each end
  const from = timeOf(details.startTime, isReversed ? to - (VALUES_MAX - 1) * MINUTE_MS : to);
  if (isReversed && most > VALUES_MAX) throw new Error(`more than ${VALUES_MAX} values: ask for fewer`);
  const values: DataValue[] = [];
  for (let next = from; next <= to;) {
    const wish: HistoryWish = {
      ...{ do: 'history', sensor, period: '1m', from: next, to: to + 1, limit: HISTORY_ROWS_MAX },
    };
    const rows = (await link.ask(wish)) as HistoryRow[];
    for (const row of rows) values.push(toValue(parts, row));
    // so many were asked for, and the client knows that there may be more
    if (!isReversed && most !== 0 && most <= VALUES_MAX && values.length >= most) break;
    if (values.length > VALUES_MAX) throw new Error(`more than ${VALUES_MAX} values: ask for a shorter time`);
    const last = rows[rows.length - 1];
    if (last === undefined || rows.length < HISTORY_ROWS_MAX) break;
    next = last.start + 1;
  }
  if (isReversed) values.reverse();
  return most === 0 ? values : values.slice(0, most);
}

/** A minute without running has no rate: it is told as a bad value, never as zero. */
function toValue(
  { value, status, variant }: OpcuaParts,
  { start, pulses, ms, isUncertain }: HistoryRow,
): DataValue {
  const { StatusCodes } = status;
  const { DataType } = variant;
  const sourceTimestamp = new Date(start);
  if (ms <= 0) return new value.DataValue({ sourceTimestamp, statusCode: StatusCodes.BadNoData });
  return new value.DataValue({
    sourceTimestamp,
    statusCode: isUncertain ? StatusCodes.UncertainSubNormal : StatusCodes.Good,
    value: { dataType: DataType.Double, value: (pulses * MINUTE_MS) / ms },
  });
}
