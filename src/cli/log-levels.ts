/** Level numbers of the log to words. Source: pino's documentation of its levels. */
export const LEVEL_NAMES: Readonly<Record<number, string>> = {
  10: 'trace',
  20: 'debug',
  30: 'info',
  40: 'warn',
  50: 'error',
  60: 'fatal',
};
