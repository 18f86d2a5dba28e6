/** The chains of the plant or of one motor, and who else sends: asked for again while they are looked at. */
import { fetchPages } from '../data/all-pages.js';
import { fetchBody } from '../data/api-client.js';
import type { SensorChain, StrangersBody, WiringBody } from '../data/station-bodies.js';
import { usePolled, type Polled } from '../data/use-polled.js';

const PLANT_EVERY_MS = 10_000;
const MOTOR_EVERY_MS = 3_000;
/** Ten thousand sensors: more than one gateway is built for. */
const PAGES_MOST = 10;
const STRANGERS_SHOWN = 100;

/** `motor` null: of the whole plant. */
export function useChains(motor: string | null): Polled<readonly SensorChain[]> {
  return usePolled(
    `wiring ${motor ?? ''}`,
    async (signal) => {
      const { pages } = await fetchPages<WiringBody>('/wiring', { motor }, PAGES_MOST, signal);
      return pages.flatMap(({ sensors }) => sensors);
    },
    motor === null ? PLANT_EVERY_MS : MOTOR_EVERY_MS,
  );
}

export function useStrangers(): Polled<StrangersBody> {
  return usePolled(
    'strangers',
    (signal) => fetchBody<StrangersBody>('/strangers', { limit: STRANGERS_SHOWN }, signal),
    PLANT_EVERY_MS,
  );
}
