/** Sizes and counts per second in words. Pure. */

const UNITS = ['B', 'kB', 'MB', 'GB', 'TB'] as const;

/** `1.4 MB`, in powers of a thousand; null: not known. */
export function formatBytes(bytes: number | null): string {
  if (bytes === null) return 'not known';
  let value = bytes;
  let unit = 0;
  while (value >= 1_000 && unit < UNITS.length - 1) {
    value /= 1_000;
    unit += 1;
  }
  return `${value >= 100 || unit === 0 ? Math.round(value) : value.toFixed(1)} ${UNITS[unit]!}`;
}

/** `12.5 a second`; null: not known yet. */
export function formatPerSecond(value: number | null): string {
  if (value === null) return 'not known yet';
  return `${value >= 100 ? Math.round(value) : Number(value.toPrecision(2))} a second`;
}

/** `48.2 %` of a whole; null where either is not known. */
export function formatShare(part: number | null, whole: number | null): string | null {
  if (part === null || whole === null || whole <= 0) return null;
  return `${((100 * part) / whole).toFixed(1)} %`;
}
