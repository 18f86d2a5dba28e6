/** Acts on alarms through the engine that runs, and into a store that no gateway runs on; alarms of the gateway itself. */
import { rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { AlarmMessage } from '../../shared/out-messages.js';
import type { JournalEntry } from '../../src/core/alarm-rows.js';
import type { AlarmAct } from '../../src/core/facts.js';
import type { EngineStore } from '../../src/engine/engine-store.js';
import { operateOffline } from '../../src/engine/offline.js';
import type { EngineSettings } from '../../src/engine/protocol.js';
import { openEngineStore } from '../../src/engine/store-adapter.js';
import { prepareFolder, readConfigFile, startRig, waitFor, type Rig } from './gateway-rig.js';

const ID = 'pump-1.de-clock-off';
const ALARM_TOPIC = 'workshop/out/pump-1/alarm/de-clock-off';

let folder: string;
let rig: Rig | null;
beforeEach(() => {
  folder = prepareFolder({}).folder;
  rig = null;
});
afterEach(async () => {
  await rig?.stop();
  rmSync(folder, { recursive: true, force: true });
});

const wish = (act: AlarmAct, alarms = [ID]) => ({ alarms, act, who: 'M. Reed', note: 'why' });
const readSettings = (): EngineSettings => {
  const { config, plan } = readConfigFile(join(folder, 'site.yaml'));
  const { minCommitIntervalMs, walBytesMax, retention } = config.storage;
  return { dataDir: join(folder, 'data'), plan, minCommitIntervalMs, storage: { walBytesMax, retention } };
};

function readJournal(from: Rig): JournalEntry[] {
  const reader = from.reader();
  const { items } = reader.journal({ from: null, to: null, limit: 1000, cursor: null });
  reader.close();
  return [...items];
}

describe('a running gateway', () => {
  it('keeps what operators do, tells it, and lets a shelf end by itself', async () => {
    rig = await startRig({ folder });
    const heard: AlarmMessage[] = [];
    const screen = await rig.connect();
    screen.on('message', (_topic, payload) => heard.push(JSON.parse(payload.toString()) as AlarmMessage));
    await screen.subscribeAsync(ALARM_TOPIC, { qos: 1 });
    const until = Date.now() + 1_500;
    const [done] = await rig.gateway.operate(wish({ do: 'shelve', until, once: false }));
    expect(done).toMatchObject({
      alarm: ID,
      refusal: null,
      record: { state: 'shelved', shelvedUntil: until },
    });
    await waitFor('the shelf is told', () => heard.some(({ state }) => state === 'shelved'));
    await waitFor('its end is told', () => heard.at(-1)?.state === 'normal');
    const entries = readJournal(rig).filter(({ subject }) => subject === ID);
    expect(entries.map(({ what, who, at }) => [what, who, at])).toEqual([
      ['shelved', 'M. Reed', expect.any(Number)],
      ['shelf-expired', '', until],
    ]);
    expect(entries[0]!.text).toBe(`until ${new Date(until).toISOString()}: why`);
  });

  it('answers each alarm for itself, in the order asked', async () => {
    rig = await startRig({ folder });
    const asked = ['pump-9.x', ID, 'gateway.storage-full', 'pump-2.de-clock-off'];
    const answers = await rig.gateway.operate(wish({ do: 'take-out-of-service' }, asked));
    expect(answers.map(({ alarm, refusal, record }) => [alarm, refusal, record?.state ?? null])).toEqual([
      ['pump-9.x', 'unknown-alarm', null],
      [ID, null, 'out-of-service'],
      ['gateway.storage-full', 'gateway-alarm', null],
      ['pump-2.de-clock-off', null, 'out-of-service'],
    ]);
    await rig.stop();
    rig = await startRig({ folder });
    const [again] = await rig.gateway.operate(wish({ do: 'take-out-of-service' }));
    expect(again).toMatchObject({ refusal: 'out-of-service-already', record: { outOfServiceBy: 'M. Reed' } });
    const [back] = await rig.gateway.operate(wish({ do: 'return-to-service' }));
    expect(back).toMatchObject({ refusal: null, record: { state: 'normal', outOfServiceWhy: '' } });
    expect(readJournal(rig).map(({ what }) => what)).toEqual([
      ...['taken-out-of-service', 'taken-out-of-service', 'returned-to-service'],
    ]);
  });

  it('suppresses by a configuration that it takes over while it runs, and frees by the next', async () => {
    rig = await startRig({ folder });
    const motors = (of: string): string =>
      `site: workshop\nmotors: { pump-1: { positions: { de: {} }${of} }, pump-2: { positions: { de: {} } } }\n`;
    const suppressed = (): Map<string, string> => {
      const reader = rig!.reader();
      const found = reader.alarms().filter(({ suppressedBy }) => suppressedBy !== null);
      reader.close();
      return new Map(found.map(({ id, suppressedBy }) => [id, suppressedBy!]));
    };
    const reload = async (of: string): Promise<void> => {
      writeFileSync(join(folder, 'site.yaml'), motors(of));
      const { config, plan } = readConfigFile(join(folder, 'site.yaml'));
      await rig!.gateway.reload(config, plan, 'read again');
    };
    await reload(', commissioning: true');
    const all = rig.gateway
      .plan()
      .deviationAlarms.filter(({ motor }) => motor === 'pump-1')
      .map(({ id }) => id);
    expect(all.length).toBeGreaterThan(2);
    await waitFor('suppressed', () => suppressed().size === all.length);
    expect([...suppressed().keys()].sort()).toEqual([...all].sort());
    expect(new Set(suppressed().values())).toEqual(new Set(['its motor is in commissioning']));
    await reload('');
    await waitFor('free', () => suppressed().size === 0);
    const what = readJournal(rig).map((entry) => entry.what);
    expect(what.filter((word) => word === 'suppressed')).toHaveLength(all.length);
    expect(what.filter((word) => word === 'unsuppressed')).toHaveLength(all.length);
  });
});

describe('while nothing can be stored', () => {
  it('the alarm of the gateway itself stands in the list, and nobody can act on it', async () => {
    const faults = { commit: false };
    const openStore = (): EngineStore => {
      const store = openEngineStore(readSettings());
      return {
        ...store,
        commit: () => {
          if (faults.commit) throw Object.assign(new Error('disk is full'), { code: 'SQLITE_FULL' });
          store.commit();
        },
      };
    };
    rig = await startRig({ folder, inline: { openStore } });
    expect(rig.gateway.ownAlarms()).toEqual([]);
    faults.commit = true;
    await waitFor('halted', () => rig!.gateway.ownAlarms().length > 0);
    expect(rig.gateway.ownAlarms()).toMatchObject([
      { id: 'gateway.storage-full', state: 'unacknowledged', priority: 'high', active: true },
    ]);
    const [own] = await rig.gateway.operate(wish({ do: 'acknowledge' }, ['gateway.storage-full']));
    expect(own?.refusal).toBe('gateway-alarm');
    await expect(rig.gateway.operate(wish({ do: 'take-out-of-service' }))).rejects.toMatchObject({
      ...{ code: 'NOT_READY', message: expect.stringMatching(/stored/) as string },
      hint: expect.stringContaining('/ready') as string,
    });
    faults.commit = false;
    await waitFor('ready', () => rig!.gateway.ready().ok);
    expect(rig.gateway.ownAlarms()).toEqual([]);
    expect(readJournal(rig).map(({ subject, what }) => [subject, what])).toEqual([
      ['gateway.storage-full', 'raised'],
      ['gateway.storage-full', 'returned'],
    ]);
  });
});

describe('a store that no gateway runs on', () => {
  it('takes the same acts with the same answers, and the gateway goes on from them', async () => {
    const call = (act: AlarmAct) => operateOffline(readSettings(), { do: 'operate', ...wish(act) })[0];
    const until = Date.now() + 3_600_000;
    expect(call({ do: 'acknowledge' })).toMatchObject({ refusal: 'nothing-to-acknowledge' });
    expect(call({ do: 'shelve', until, once: true })).toMatchObject({
      refusal: null,
      record: { state: 'shelved' },
    });
    expect(call({ do: 'shelve', until: until + 86_400_000, once: true })).toMatchObject({
      refusal: 'until-too-far',
    });
    rig = await startRig({ folder });
    const [done] = await rig.gateway.operate(wish({ do: 'unshelve' }));
    expect(done).toMatchObject({ refusal: null, record: { state: 'normal' } });
    expect(() => call({ do: 'unshelve' })).toThrow(/another gateway writes/);
  });
});
