/**
 * One motor that runs without a break, its counts fed into the live code of the rate alarm by the base window: minutes into
 * the condition, hours into the dispersion, as the sweep does. Months of running in seconds.
 */
import { evaluateRateAlarms } from '../../src/core/condition.js';
import { emptyStep, newState } from '../../src/core/new-state.js';
import type { RateAlarmPlan } from '../../src/core/plan.js';
import { closeSpread, HOUR_MS, refreshDispersion } from '../../src/core/spread.js';
import type { CoreState, SensorState } from '../../src/core/state.js';
import { makePlan, motorPlan, rateAlarm, sensorPlan } from './plans.js';

const WINDOW_MS = 10_000;
const MINUTE_MS = 60_000;

/** Confidence of the limits on a plant of 16 sensors with one false alarm a month. */
export const PLANT_CONFIDENCE = 0.999986;

export class RateMotor {
  readonly state: CoreState;
  readonly sensor: SensorState;
  readonly #alarm: RateAlarmPlan;
  /** times at which the alarm was raised, and returned */
  readonly raisedAt: number[] = [];
  readonly returnedAt: number[] = [];
  now: number;
  #minute = { pulses: 0, ms: 0 };

  constructor(setpointPerMin: number, change: Partial<RateAlarmPlan> = {}, startAt = Date.UTC(2026, 0, 5)) {
    this.#alarm = rateAlarm('pump/de', setpointPerMin, { confidence: PLANT_CONFIDENCE, ...change });
    const plan = makePlan([motorPlan('pump', { hasRunState: false })], [sensorPlan('pump', 'de')], {
      rateAlarms: [this.#alarm],
    });
    this.state = newState(plan);
    this.sensor = this.state.sensors.get('pump/de')!;
    this.now = startAt;
    this.sensor.hour.start = startAt;
  }

  get isActive(): boolean {
    return this.state.alarms.get(this.#alarm.id)?.active === true;
  }

  /** The next base window. */
  run(pulses: number): void {
    const { sensor, state } = this;
    sensor.ring.set(this.now / WINDOW_MS, pulses, WINDOW_MS, false, '');
    this.#minute.pulses += pulses;
    this.#minute.ms += WINDOW_MS;
    this.now += WINDOW_MS;
    if (this.now % MINUTE_MS !== 0) return;
    emptyStep(state);
    state.now = this.now;
    sensor.minutes.push({ start: this.now - MINUTE_MS, ...this.#minute, bins: [] });
    this.#minute = { pulses: 0, ms: 0 };
    this.#closeHour();
    evaluateRateAlarms(state, sensor);
    if (sensor.minutes.length > 180) sensor.minutes.splice(0, sensor.minutes.length - 120);
    for (const { what, at } of state.out.journal) {
      if (what === 'raised') this.raisedAt.push(at);
      if (what === 'returned') this.returnedAt.push(at);
    }
  }

  #closeHour(): void {
    const { sensor, state, now } = this;
    const hour = sensor.hour.start;
    const isEnd = now % HOUR_MS === 0;
    if (isEnd) {
      closeSpread(state, sensor, hour);
      sensor.hour.start = now;
    }
    if (isEnd || (now % 600_000 === 0 && sensor.spreads.length === 0))
      refreshDispersion(sensor, isEnd ? null : hour);
  }
}
