/** Limits of the interface that a page has to know too: no schema stands here, so that none is sent to a browser. */

/** Longest count between two marks in the past. */
export const COUNT_PAST_MOST_MS = 7 * 86_400_000 + 3_600_000;
export const POINTS_LEAST = 10;
/** Most alarms of one request that are picked by name. */
export const PICKED_MOST = 200;
