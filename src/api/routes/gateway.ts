/** Route for how the gateway itself does. */
import { z } from 'zod';
import { formatUtc, formatUtcOrNull } from '../../../shared/time.js';
import { clockBody, gatewayBody, goOnRequest } from '../gateway-bodies.js';
import {
  compareSinks,
  isClockHalted,
  toClockBody,
  toPlcBody,
  toConfigurationBody,
  toHealthBody,
  toIntakeBody,
  toProofBody,
  toStorageBody,
} from '../gateway-maps.js';
import { describeConflict, ProblemError } from '../problem.js';
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
      const [figures, standing, sinks, storage, configuration, plc] = await Promise.all([
        station.figures(),
        deps.standing(),
        station.sinks(),
        station.storage(),
        station.configuration(),
        station.plc(),
      ]);
      const now = deps.now();
      const file = compareSinks(
        configuration,
        sinks.map(({ sink }) => sink),
      );
      return {
        ...{ site, zone: timeZone, version, started_at: formatUtc(figures.startedAt) },
        ...{ uptime_ms: Math.max(0, now - figures.startedAt), live_readers: liveReaders() },
        health: toHealthBody(standing),
        intake: toIntakeBody(figures),
        ledger: toProofBody(station.proof()),
        storage: toStorageBody(storage),
        clock: toClockBody(figures, now, standing),
        configuration: toConfigurationBody(configuration, revision),
        plc: plc.map(toPlcBody),
        sinks: sinks.map(({ sink, kind, state, lastDeliveredAt, pending, says }) => ({
          ...{ sink, kind, state, last_delivered_at: formatUtcOrNull(lastDeliveredAt), pending, says },
          file: file.fileOf(sink),
        })),
        sinks_at_next_start: file.toCome,
      };
    },
  });
}

export const clockRoute = defineRoute({
  method: 'POST',
  path: '/api/v1/gateway/clock/go-on',
  summary:
    'Lets the gateway go on although its clock is doubted; who did is in the journal. Set the clock instead where you can',
  query: none,
  params: none,
  body: goOnRequest,
  response: clockBody,
  problems: [
    [409, 'the clock is not why the gateway stands; `reason` is `not-halted`'],
    [503, 'it could not go on; /ready says why'],
  ],
  async handle({ body: { who } }, deps) {
    if (!isClockHalted(await deps.standing())) {
      const hint = 'GET /api/v1/gateway says how the clock stands.';
      const conflict = describeConflict('The gateway does not stand because of its clock.', hint);
      throw new ProblemError({ ...conflict, reason: 'not-halted' });
    }
    await deps.trustClock(who);
    const [figures, standing] = await Promise.all([deps.station.figures(), deps.standing()]);
    return toClockBody(figures, deps.now(), standing);
  },
});
