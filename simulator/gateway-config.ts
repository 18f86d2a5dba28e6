/** The gateway's configuration that fits a scenario: what a controls engineer would have typed for this plant. */
import { stringify } from 'yaml';
import type { MotorScenario, Scenario, SensorScenario } from './scenario.js';

/** Ramps vary by a fifth either way; a little more is safe. */
const RAMP_MARGIN = 1.25;
/** Longest interval that the gateway still uses, in reporting intervals. */
const INTERVALS_MOST = 3.15;

/** YAML text, ready for `tallypost run --config`. */
export function writeGatewayConfig(scenario: Scenario): string {
  const motors = [...scenario.motors.values()].map((motor) => [motor.name, describeMotor(motor)] as const);
  const config = {
    site: scenario.site,
    timeZone: scenario.timeZone,
    mqtt: { listen: scenario.gateway.mqtt },
    http: { listen: scenario.gateway.http },
    motors: Object.fromEntries(motors),
  };
  return `# Written by the simulator for the scenario of ${scenario.site}.\n${stringify(config, { lineWidth: 0 })}`;
}

function describeMotor(motor: MotorScenario): object {
  const positions = [...motor.positions].map(
    ([position, sensor]) => [position, describePosition(sensor)] as const,
  );
  return {
    zone: motor.zone,
    ...(motor.dutyGroup === '' ? {} : { dutyGroup: motor.dutyGroup }),
    drive: describeDrive(motor),
    positions: Object.fromEntries(positions),
    ...(Object.keys(motor.alarms).length === 0 ? {} : { alarms: motor.alarms }),
  };
}

function describeDrive({ drive, duty }: MotorScenario): object {
  if (drive.reporting === 'none') return { runState: 'none' };
  const heartbeatMs = { change: null, heartbeat: drive.heartbeatMs, polled: drive.pollMs }[drive.reporting];
  const rampSeconds = Math.max(duty.startingSeconds, duty.stoppingSeconds);
  const rampMs = drive.sends.starting ? 0 : Math.ceil(rampSeconds * 1_000 * RAMP_MARGIN);
  return { heartbeatMs, rampMs, runState: 'reported', clockErrorMs: drive.clockErrorMs };
}

function describePosition({ device, discharge }: SensorScenario): object {
  const { intervalMs, counterBits, deadTimeUs } = device;
  const neighbours = discharge.crosstalk.from;
  const maxRatePerS = device.maxRatePerS ?? provableRate(counterBits, intervalMs);
  return {
    intervalMs,
    counterBits,
    ...(maxRatePerS === null ? {} : { maxRatePerS }),
    ...(deadTimeUs === 0 ? {} : { deadTimeUs }),
    ...(neighbours.length === 0 ? {} : { coupledTo: neighbours }),
  };
}

/** A 16-bit counter is only worth something with a maximum rate; the largest that proves its wraps. Else null. */
function provableRate(bits: 16 | 32 | 53, intervalMs: number): number | null {
  return bits === 16 ? Math.floor((2 ** bits * 1_000) / (intervalMs * INTERVALS_MOST)) - 1 : null;
}
