/** Figures in words, as the error messages and the summary print them. */

const GROUPED = new Intl.NumberFormat('en-GB', { maximumFractionDigits: 3 });

/** `65536` becomes `65,536`. */
export function formatNumber(value: number): string {
  return GROUPED.format(value);
}

/** Milliseconds as a person says them: `250 ms`, `10 s`, `5 min`, `36 h`, `7 d`. */
export function formatDuration(ms: number): string {
  const units: readonly [number, string][] = [
    [86_400_000, 'd'],
    [3_600_000, 'h'],
    [60_000, 'min'],
    [1_000, 's'],
  ];
  const exact = units.find(([size]) => ms >= size && Number.isInteger((ms / size) * 10));
  const [size, unit] = exact ?? units.find(([one]) => ms >= 2 * one) ?? [1, 'ms'];
  const steps = size === 1 ? 1 : 10;
  return `${formatNumber(Math.round((ms / size) * steps) / steps)} ${unit}`;
}
