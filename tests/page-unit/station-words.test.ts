/** What the views of wiring and of the gateway make of bodies, without a browser. */
import { describe, expect, it } from 'vitest';
import { foldChanges } from '../../src/page/gateway/change-rows.js';
import { listBreaks } from '../../src/page/wiring/chain-words.js';
import type { ChainLink, SensorChain } from '../../src/page/data/station-bodies.js';

const link = (name: ChainLink['link'], state: ChainLink['state'], says = ''): ChainLink => ({
  ...{ link: name, state, at: null, fault_at: null, fault: '', says, todo: '' },
});

const chain = (sensor: string, broken: SensorChain['broken'], ...links: ChainLink[]): SensorChain => ({
  ...{ sensor, motor: sensor.split('/')[0]!, position: 'de', device: null, broken, chain: links },
});

describe('what is broken', () => {
  it('is the first link of each chain, and what fails apart from the readings', () => {
    const dead = link('forwarded', 'fault', 'the broker is dead');
    const breaks = listBreaks([
      chain(
        'well-1/de',
        'plausible',
        link('plausible', 'fault', 'its clock is wrong'),
        link('run-state', 'fault', 'the drive is silent'),
        link('classified', 'fault', 'all of it is unattributed'),
        dead,
      ),
      chain('well-2/de', 'forwarded', link('plausible', 'ok'), dead),
    ]);
    expect(breaks.map(({ says, sensors }) => [says, sensors.length])).toEqual([
      ['the broker is dead', 2],
      ['its clock is wrong', 1],
      ['the drive is silent', 1],
    ]);
  });
});

describe('what the file would change', () => {
  const change = (path: string, inForce: string | null, file: string | null) => ({
    ...{ path, in_force: inForce, file, needs_restart: path.startsWith('sinks.') },
  });

  it('names a motor or a receiver that comes or goes once, and others setting by setting', () => {
    const rows = foldChanges([
      change('motors.well-1.drive.rampMs', '1', '2'),
      change('motors.well-9.key', null, '"well-9"'),
      change('motors.well-9.zone', null, '"hall"'),
      change('sinks.desk.kind', '"http"', null),
      change('sinks.desk.name', '"desk"', null),
      change('sinks.line.url', '"a"', '"b"'),
    ]);
    expect(rows.map(({ path, in_force: inForce, file }) => [path, inForce, file])).toEqual([
      ['motors.well-1.drive.rampMs', '1', '2'],
      ['motors.well-9', null, '2 settings'],
      ['sinks.desk', '2 settings', null],
      ['sinks.line.url', '"a"', '"b"'],
    ]);
  });
});
