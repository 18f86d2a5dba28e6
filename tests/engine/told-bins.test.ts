/** A base window says its bins in the same order when it is issued as when it is read from the store. */
import { expect, it } from 'vitest';
import { emptyOutputs } from '../../src/core/outputs.js';
import { newWindow } from '../../src/core/window.js';
import { Class } from '../../src/core/words.js';
import { ToldCollector } from '../../src/engine/told.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

it('in the order of their names, not of the increments', () => {
  const told = new ToldCollector(makePlan([motorPlan('mill')], [sensorPlan('mill', 'de')]), true);
  const window = newWindow('mill/de', Date.UTC(2026, 0, 5));
  window.pulses[Class.running] = 5;
  window.ms[Class.running] = 10_000;
  window.bins.push({ bin: 'speed 600..', pulses: 3, ms: 5000 }, { bin: 'mixed', pulses: 2, ms: 5000 });
  told.add({ ...emptyOutputs(), windows: [window] });
  const [rollup] = told.finish(null)!.publications;
  expect(JSON.parse(rollup!.payload)).toMatchObject({ bins: [{ bin: 'mixed' }, { bin: 'speed 600..' }] });
});
