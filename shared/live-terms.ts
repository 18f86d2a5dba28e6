/** What the live stream and who follows it agree on. */

/**
 * The gateway tells each reader that often that it is still there, whatever else happens: a connection that lost its other end without
 * a word is known by the silence. Our choice: proxies cut what is silent for 30 to 60 s (common practice, no source).
 */
export const LIVE_HEARTBEAT_MS = 15_000;
export const LIVE_HEARTBEAT = 'heartbeat';
/** In the address: the id of the last event, for who cannot send the header `Last-Event-ID`. */
export const LAST_ID_PARAMETER = 'last_event_id';
