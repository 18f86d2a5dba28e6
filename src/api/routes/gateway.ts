/** Route for how the gateway itself does. */
import { z } from 'zod';
import { formatUtc, formatUtcOrNull } from '../../../shared/time.js';
import { gatewayBody } from '../gateway-bodies.js';
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
