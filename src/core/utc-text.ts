/** A time in a sentence, UTC, to the minute. */

const DAY_MS = 86_400_000;

/**
 * "2026-03-02 06:10 UTC" from ms since the epoch.
 * Source: days to a date of the Gregorian calendar by counting from 1 March of the year 0, in eras of 400 years.
 */
export function sayUtc(ms: number): string {
  const days = Math.floor(ms / DAY_MS) + 719_468;
  const era = Math.floor(days / 146_097);
  const dayOfEra = days - era * 146_097;
  const yearOfEra = Math.floor(
    (dayOfEra -
      Math.floor(dayOfEra / 1460) +
      Math.floor(dayOfEra / 36_524) -
      Math.floor(dayOfEra / 146_096)) /
      365,
  );
  const dayOfYear = dayOfEra - (365 * yearOfEra + Math.floor(yearOfEra / 4) - Math.floor(yearOfEra / 100));
  const shifted = Math.floor((5 * dayOfYear + 2) / 153);
  const day = dayOfYear - Math.floor((153 * shifted + 2) / 5) + 1;
  const month = shifted < 10 ? shifted + 3 : shifted - 9;
  const year = yearOfEra + era * 400 + (month <= 2 ? 1 : 0);
  const minutes = Math.floor((ms - Math.floor(ms / DAY_MS) * DAY_MS) / 60_000);
  const two = (value: number): string => String(value).padStart(2, '0');
  return `${year}-${two(month)}-${two(day)} ${two(Math.floor(minutes / 60))}:${two(minutes % 60)} UTC`;
}
