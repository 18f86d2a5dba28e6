/** The gateway's clock, as the page knows it: ages are told by it, whatever the clock of this screen says. */
import { signal } from '@preact/signals';

const TICK_MS = 1_000;
let aheadMs = 0;

/** Now, by the gateway's clock, moved on each second. Reading it in a component redraws that component each second. */
export const now = signal(Date.now());
/** IANA zone of the site; UTC until the gateway has told it. */
export const zone = signal('UTC');

/** By the gateway's clock, without being redrawn. */
export function readNow(): number {
  return Date.now() + aheadMs;
}

/** Takes the gateway's time from an answer that came just now. */
export function setClock(gatewayNow: string, ofZone: string): void {
  aheadMs = Date.parse(gatewayNow) - Date.now();
  zone.value = ofZone;
  now.value = readNow();
}

/** Call once. */
export function startClock(): void {
  setInterval(() => (now.value = readNow()), TICK_MS);
}
