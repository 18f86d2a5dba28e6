/** Routes for how the gateway itself does, and for letting it go on with its clock. */
import { z } from 'zod';
import { formatUtc, formatUtcOrNull } from '../../../shared/time.js';
import { actBody } from '../../../shared/api.js';
import { gatewayBody, trustedClockBody } from '../gateway-bodies.js';
import {
  toClockBody,
  toConfigurationBody,
  toHealthBody,
  toIntakeBody,
  toProofBody,
  toStorageBody,
} from '../gateway-maps.js';
import { defineRoute, type Route } from '../route.js';

const none = z.strictObject({});

/** `liveReaders`: how many follow the live stream. */
export function gatewayRoute(liveReaders: () => number): Route {
  return defineRoute({
    method: 'GET',
    path: '/api/v1/gateway',
    summary:
      'Health, intake, balance, storage, clock, configuration in force and sinks of the gateway itself',
    query: none,
    params: none,
    body: null,
    response: gatewayBody,
    async handle(_input, deps) {
      const { station, version, timeZone } = deps;
      const { site, revision } = deps.plan();
      const [figures, standing, sinks, storage, configuration] = await Promise.all([
        station.figures(),
        deps.standing(),
        station.sinks(),
        station.storage(),
        station.configuration(),
      ]);
      const now = deps.now();
      return {
        ...{ site, zone: timeZone, version, started_at: formatUtc(figures.startedAt) },
        ...{ uptime_ms: Math.max(0, now - figures.startedAt), live_readers: liveReaders() },
        health: toHealthBody(standing),
        intake: toIntakeBody(figures),
        ledger: toProofBody(station.proof()),
        storage: toStorageBody(storage),
        clock: toClockBody(figures, now, standing.unreadyReasons),
        configuration: toConfigurationBody(configuration, revision),
        sinks: sinks.map(({ sink, kind, state, lastDeliveredAt, pending, says }) => ({
          ...{ sink, kind, state, last_delivered_at: formatUtcOrNull(lastDeliveredAt), pending, says },
        })),
      };
    },
  });
}

export const trustClockRoute = defineRoute({
  method: 'POST',
  path: '/api/v1/gateway/trust-clock',
  summary:
    'Let the gateway go on although it doubts its clock: it lies before what is stored, or most devices have another time',
  query: none,
  params: none,
  body: actBody,
  response: trustedClockBody,
  problems: [[409, 'it does not wait for that']],
  async handle({ body: { who, note } }, deps) {
    await deps.trustClock(who, note);
    return { now: formatUtc(deps.now()), offset_ms: (await deps.station.figures()).clockOffsetMs };
  },
});
