/**
 * Addresses of the page: the first part of each path. The server answers every one of them with the page's index, so that
 * an address can be kept, sent and opened again.
 */

/** The first is the page's root. */
export const PAGE_SEGMENTS = [
  '',
  'alarms',
  'motor',
  'sisters',
  'compare',
  'plan',
  'wiring',
  'gateway',
  'reports',
  'kiosk',
] as const;
export type PageSegment = (typeof PAGE_SEGMENTS)[number];
