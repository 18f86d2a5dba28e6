/** History of rates, read from the gateway's minutes when somebody asks; nothing is kept here. */
import type { AddressSpace, UAVariable } from 'node-opcua-address-space';
import type { DataValue } from 'node-opcua-data-value';
import type { OpcuaParts } from './opcua-package.js';
import type { ServerLink } from './server-link.js';
import { HISTORY_ROWS_MAX, type HistoryRow, type HistoryWish } from './wishes.js';

const MINUTE_MS = 60_000;
/** Most values of one request: two weeks of minutes. More is refused, because part of it would look like all of it. */
const VALUES_MAX = 20_160;

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
  const limit = Math.min(most === 0 ? VALUES_MAX : most, VALUES_MAX);
  // backwards from the end: as many minutes as there may be values, which running only ever leaves out
  const from = timeOf(details.startTime, isReversed ? to - VALUES_MAX * MINUTE_MS : to);
  const values: DataValue[] = [];
  for (let next = from; next <= to;) {
    const wish: HistoryWish = {
      ...{ do: 'history', sensor, period: '1m', from: next, to: to + 1, limit: HISTORY_ROWS_MAX },
    };
    const rows = (await link.ask(wish)) as HistoryRow[];
    for (const row of rows) values.push(toValue(parts, row));
    const last = rows[rows.length - 1];
    if (last === undefined || rows.length < HISTORY_ROWS_MAX) break;
    if (!isReversed && most !== 0 && values.length >= limit) break;
    if (values.length > VALUES_MAX) throw new Error(`more than ${VALUES_MAX} values: ask for a shorter time`);
    next = last.start + 1;
  }
  return isReversed ? values.reverse().slice(0, limit) : values.slice(0, limit);
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
