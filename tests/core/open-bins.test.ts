/** While the rows given at start do not reach back to the open hour, its bins are kept beside its sums. */
import { expect, it } from 'vitest';
import { sensorRow } from '../../src/core/checkpoint.js';
import { openState, step } from '../../src/core/step.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

it('in the first minute of an hour too, when the hour itself holds none yet', () => {
  const plan = makePlan([motorPlan('mill')], [sensorPlan('mill', 'de')]);
  const state = openState(plan, null);
  const at = Date.UTC(2026, 0, 5);
  step(plan, state, [
    {
      ...{ kind: 'reading', sensor: 'mill/de', device: 'SN', count: 0, at, seq: 1, boot: 1, upMs: null },
      ...{ temperatureC: null, check: false, receivedAt: at },
    },
  ]);
  const sensor = state.sensors.get('mill/de')!;
  const bins = [{ bin: 'speed 600..', pulses: 3, ms: 10_000 }];
  sensor.minute.bins = bins;
  expect(JSON.parse(sensorRow(sensor).json)).toMatchObject({ openBins: [bins, [], []] });
});
