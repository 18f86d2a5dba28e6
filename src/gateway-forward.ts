/** Brings the forwarder together with the rest: sinks with their secrets, and what the configuration says of alarms. */
import type { Config } from './config/config.js';
import { resolveSinks } from './config/sink-settings.js';
import { findAdvice } from './core/alarm-advice.js';
import type { Plan } from './core/plan.js';
import { listPlanned } from './core/planned-alarm.js';
import type { ForwardSettings } from './forward/protocol.js';

/** Settings, and what to beware of in how secrets are kept. Throws when a secret cannot be had. */
export function readForwardSettings(
  config: Config,
  plan: Plan,
  dataDir: string,
): { settings: Omit<ForwardSettings, 'clockOffsetMs'>; warnings: readonly string[] } {
  const { sinks, warnings } = resolveSinks(config);
  return {
    settings: {
      ...{ dataDir, site: plan.site, sinks },
      sensors: [...plan.sensors.keys()],
      motors: [...plan.motors.keys()],
      advice: new Map([...listPlanned(plan)].map(({ id }) => [id, findAdvice(plan, id)])),
    },
    warnings,
  };
}
