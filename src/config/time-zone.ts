/** IANA time zones, as far as this machine's time zone data knows them. */
import * as z from 'zod';

const EXPECTED = 'an IANA time zone, such as Europe/London';

export function timeZone(description: string) {
  return z.string({ error: EXPECTED }).refine(isTimeZone, { error: EXPECTED }).meta({ description });
}

/** Offsets such as +05:45 are no zones: they know no summer time. */
export function isTimeZone(zone: string): boolean {
  if (!/^[A-Za-z]/.test(zone)) return false;
  try {
    new Intl.DateTimeFormat('en', { timeZone: zone });
    return true;
  } catch (error) {
    if (error instanceof RangeError) return false;
    throw error;
  }
}

/** All zones, for a did-you-mean. */
export function listTimeZones(): string[] {
  return ['UTC', ...Intl.supportedValuesOf('timeZone')];
}
