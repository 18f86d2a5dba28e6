/** Times as people at the site read them; the zone's rules come from the time zone data of this machine. */

const DAYS = ['sun', 'mon', 'tue', 'wed', 'thu', 'fri', 'sat'] as const;

/** Day of the week, 0: Sunday; minutes since the midnight that a clock on the wall shows. */
export interface WallTime {
  readonly day: number;
  readonly minute: number;
}

const clocks = new Map<string, Intl.DateTimeFormat>();
const stamps = new Map<string, Intl.DateTimeFormat>();

function remembered(
  kept: Map<string, Intl.DateTimeFormat>,
  zone: string,
  options: Intl.DateTimeFormatOptions,
): Intl.DateTimeFormat {
  let format = kept.get(zone);
  if (format === undefined) {
    format = new Intl.DateTimeFormat('en-GB', { ...options, timeZone: zone });
    kept.set(zone, format);
  }
  return format;
}

/** What a clock on the wall of the site shows at `at` (ms). */
export function wallTime(at: number, zone: string): WallTime {
  const format = remembered(clocks, zone, {
    weekday: 'short',
    hour: '2-digit',
    minute: '2-digit',
    hourCycle: 'h23',
  });
  const parts = new Map(format.formatToParts(at).map(({ type, value }) => [type, value]));
  const day = DAYS.indexOf((parts.get('weekday') ?? '').toLowerCase() as (typeof DAYS)[number]);
  return { day, minute: Number(parts.get('hour')) * 60 + Number(parts.get('minute')) };
}

/** `Sun 25 Oct 2026, 01:30 BST`: with the zone, because on the night of a clock change an hour comes twice. */
export function formatLocal(at: number, zone: string): string {
  const format = remembered(stamps, zone, {
    weekday: 'short',
    day: 'numeric',
    month: 'short',
    year: 'numeric',
    hour: '2-digit',
    minute: '2-digit',
    hourCycle: 'h23',
    timeZoneName: 'short',
  });
  const parts = new Map(format.formatToParts(at).map(({ type, value }) => [type, value]));
  const of = (type: Intl.DateTimeFormatPartTypes): string => parts.get(type) ?? '';
  const date = `${of('weekday')} ${of('day')} ${of('month')} ${of('year')}`;
  return `${date}, ${of('hour')}:${of('minute')} ${of('timeZoneName')}`;
}
