/** Days of the calendar without a clock: the pure rooms have no Date. */

const DAY_MS = 86_400_000;
/** Days from 1 March of year 0 to 1 January 1970, in the proleptic Gregorian calendar. */
const EPOCH_DAYS = 719_468;
const DAYS_OF_400_YEARS = 146_097;

/**
 * The day (UTC) of a time in ms since the epoch as `2026-03-01`. Years from March, so that the leap day comes last.
 * Source: the arithmetic of the Gregorian calendar, 97 leap days in 400 years.
 */
export function dayOf(atMs: number): string {
  const days = Math.floor(atMs / DAY_MS) + EPOCH_DAYS;
  const era = Math.floor(days / DAYS_OF_400_YEARS);
  const dayOfEra = days - era * DAYS_OF_400_YEARS;
  const yearOfEra = Math.floor(
    (dayOfEra -
      Math.floor(dayOfEra / 1460) +
      Math.floor(dayOfEra / 36_524) -
      Math.floor(dayOfEra / 146_096)) /
      365,
  );
  const dayOfYear = dayOfEra - (365 * yearOfEra + Math.floor(yearOfEra / 4) - Math.floor(yearOfEra / 100));
  const marchMonth = Math.floor((5 * dayOfYear + 2) / 153);
  const day = dayOfYear - Math.floor((153 * marchMonth + 2) / 5) + 1;
  const month = marchMonth < 10 ? marchMonth + 3 : marchMonth - 9;
  const year = yearOfEra + era * 400 + (month <= 2 ? 1 : 0);
  return `${String(year).padStart(4, '0')}-${String(month).padStart(2, '0')}-${String(day).padStart(2, '0')}`;
}
