/** The OPC UA server as an HMI sees it: the client is in this process, the server in its own. Needs the build. */
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import {
  AttributeIds,
  callConditionRefresh,
  ClientMonitoredItem,
  constructEventFilter,
  type DataValue,
  resolveNodeId,
  TimestampsToReturn,
  Variant,
  DataType,
  StatusCodes,
} from 'node-opcua-client';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { listCertificates, moveCertificate } from '../../src/plc/opcua-certificates.js';
import type { OpcuaSettings } from '../../src/plc/opcua-settings.js';
import type { HistoryWish, OperateWish } from '../../src/plc/wishes.js';
import { sleep } from '../support/child.js';
import { connectHmi, type Hmi } from './opcua-client.js';
import { serve, type Served } from './served-process.js';
import { alarmNews, driveNews, rateNews, smallPlant } from './small-plant.js';

const SHIFT = { user: 'shift', password: 'a long enough one' };
const GUEST = { user: 'guest', password: 'another one' };
const STALE_MS = 4_000;
let served: Served;
let folder: string;
let refusal: string | null = null;
const open: Hmi[] = [];

async function connect(wishes: Partial<Parameters<typeof connectHmi>[0]> = {}): Promise<Hmi> {
  const hmi = await connectHmi({ port: served.port, ...wishes });
  open.push(hmi);
  return hmi;
}

function answer(wish: unknown): unknown {
  const asked = wish as OperateWish | HistoryWish;
  if (asked.do === 'operate') return { refusal, says: '' };
  const rows = [];
  for (
    let start = Math.ceil(asked.from / 60_000) * 60_000;
    start < asked.to && rows.length < asked.limit;
    start += 60_000
  )
    rows.push({
      start,
      pulses: (start / 60_000) % 100,
      ms: start % 180_000 === 0 ? 0 : 60_000,
      isUncertain: false,
    });
  return rows;
}

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'tallypost-opcua-'));
  const plant = smallPlant();
  const settings: OpcuaSettings = {
    ...{ host: '127.0.0.1', port: 0, security: ['sign-encrypt', 'none'], anonymous: true },
    users: [
      { name: SHIFT.user, password: SHIFT.password, role: 'operator' },
      { name: GUEST.user, password: GUEST.password, role: 'viewer' },
    ],
    ...{
      sessionsMax: 5,
      idleMs: 60_000,
      rangePerMin: 600,
      shelfMaxMs: 86_400_000,
      dataDir: folder,
      version: '0.0.0',
    },
    plant: { ...plant, sensors: plant.sensors.map((sensor) => ({ ...sensor, staleMs: STALE_MS })) },
  };
  served = await serve('src/plc/opcua-process.js', settings, answer);
});
afterEach(async () => {
  refusal = null;
  expect(served.said).toEqual([]);
  for (const hmi of open.splice(0)) await hmi.close();
});
afterAll(async () => {
  await served.stop();
  rmSync(folder, { recursive: true, force: true });
});

const nowRate = (change: Parameters<typeof rateNews>[0] = {}) =>
  rateNews({ at: Date.now(), runningAt: Date.now(), ...change });

describe('values', () => {
  it('are found by browsing under ids that follow from the names', async () => {
    const hmi = await connect();
    const below = async (id: string): Promise<string[]> => {
      const { references } = await hmi.session.browse(hmi.node(id));
      return [...new Set((references ?? []).map(({ nodeId }) => String(nodeId.value)))];
    };
    expect(await below('plant')).toEqual(expect.arrayContaining(['gateway', 'pump-1', 'pump-2', 'fan-a']));
    expect(await below('pump-1')).toEqual(
      expect.arrayContaining(['pump-1/run-state', 'pump-1/alarm-state', 'pump-1/de', 'pump-1/nde']),
    );
    expect(await below('pump-1/de')).toEqual(
      expect.arrayContaining(['pump-1/de/rate', 'pump-1/de/health', 'alarm/pump-1.de-rate-high']),
    );
  });

  it('have a range, units, the time of the event, and a quality that follows their age', async () => {
    const hmi = await connect();
    expect((await hmi.read('pump-2/de/rate')).statusCode).toBe(StatusCodes.BadWaitingForInitialData);
    const at = Date.now();
    await served.beat({ rates: [nowRate({ sensor: 'pump-2/de', at, runningAt: at })] });
    const fresh = await hmi.read('pump-2/de/rate');
    expect([fresh.value.value, fresh.statusCode, fresh.sourceTimestamp?.getTime()]).toEqual([
      12.34,
      StatusCodes.Good,
      at,
    ]);
    const type = await hmi.session.read({
      nodeId: hmi.node('pump-2/de/rate-EngineeringUnits'),
      attributeId: AttributeIds.Value,
    });
    expect(type.value.value).toMatchObject({ unitId: 4_405_556, displayName: { text: '1/min' } });
    expect((await hmi.read('pump-2/de/rate-EURange')).value.value).toMatchObject({ low: 0, high: 600 });
    await sleep(STALE_MS / 2 + 1_200);
    const older = await hmi.read('pump-2/de/rate');
    expect([older.value.value, older.statusCode]).toEqual([12.34, StatusCodes.UncertainLastUsableValue]);
    await sleep(STALE_MS / 2);
    const stale = await hmi.read('pump-2/de/rate');
    expect([stale.value.value ?? null, stale.statusCode]).toEqual([null, StatusCodes.BadNoCommunication]);
    expect(stale.sourceTimestamp?.getTime()).toBe(at);
  });

  it('come by subscription when they change', async () => {
    const hmi = await connect();
    const subscription = await hmi.session.createSubscription2({
      ...{ requestedPublishingInterval: 200, requestedLifetimeCount: 100, requestedMaxKeepAliveCount: 10 },
      ...{ maxNotificationsPerPublish: 100, publishingEnabled: true, priority: 1 },
    });
    const item = ClientMonitoredItem.create(
      subscription,
      { nodeId: hmi.node('pump-1/run-state'), attributeId: AttributeIds.Value },
      { samplingInterval: 200, discardOldest: true, queueSize: 10 },
      TimestampsToReturn.Both,
    );
    const seen: unknown[] = [];
    item.on('changed', (value: DataValue) => seen.push(value.value.value));
    await served.beat({ drives: [driveNews({ at: Date.now(), state: 'starting' })] });
    await untilTrue(() => seen.includes(2));
    await served.beat({ drives: [driveNews({ at: Date.now(), state: 'running' })] });
    await untilTrue(() => seen.includes(3));
    await subscription.terminate();
  });

  it('of the past are read from the minutes of the gateway, a minute without running as bad', async () => {
    const hmi = await connect();
    const end = new Date(Math.floor(Date.now() / 3_600_000) * 3_600_000);
    const start = new Date(end.getTime() - 10 * 60_000);
    const { historyData, statusCode } = await hmi.session.readHistoryValue(
      hmi.node('pump-1/de/rate'),
      start,
      end,
    );
    expect(statusCode).toBe(StatusCodes.Good);
    const values = (historyData as unknown as { dataValues: DataValue[] }).dataValues;
    expect(values.length).toBeGreaterThanOrEqual(10);
    for (const { sourceTimestamp, statusCode: status, value } of values) {
      const at = sourceTimestamp!.getTime();
      if (at % 180_000 === 0) expect(status).toBe(StatusCodes.BadNoData);
      else expect([status, value.value]).toEqual([StatusCodes.Good, (at / 60_000) % 100]);
    }
  });

  it('cannot be written', async () => {
    const hmi = await connect({ login: SHIFT });
    const status = await hmi.session.write({
      ...{ nodeId: hmi.node('pump-1/de/rate'), attributeId: AttributeIds.Value },
      value: { value: new Variant({ dataType: DataType.Double, value: 1 }) },
    });
    expect(status.isGood()).toBe(false);
  });
});

describe('alarms', () => {
  const FIELDS = [
    'EventId',
    'ConditionId',
    'SourceName',
    'Message',
    'Severity',
    'Retain',
    'ActiveState.Id',
    'AckedState.Id',
    'ConfirmedState.Id',
    'Time',
    'Quality',
  ];
  type Event = Record<string, Variant>;

  async function follow(hmi: Hmi): Promise<{ events: Event[]; refresh(): Promise<void> }> {
    const subscription = await hmi.session.createSubscription2({
      ...{ requestedPublishingInterval: 100, requestedLifetimeCount: 1_000, requestedMaxKeepAliveCount: 10 },
      ...{ maxNotificationsPerPublish: 100, publishingEnabled: true, priority: 1 },
    });
    const item = ClientMonitoredItem.create(
      subscription,
      { nodeId: resolveNodeId('Server'), attributeId: AttributeIds.EventNotifier },
      {
        samplingInterval: 0,
        discardOldest: true,
        queueSize: 1_000,
        filter: constructEventFilter(FIELDS),
      },
      TimestampsToReturn.Both,
    );
    const events: Event[] = [];
    item.on('changed', ((fields: Variant[]) => {
      events.push(Object.fromEntries(FIELDS.map((name, i) => [name, fields[i]!])));
    }) as never);
    await new Promise((resolve) => item.once('initialized', () => resolve(null)));
    return {
      events,
      refresh: async () => void (await callConditionRefresh(hmi.session, subscription.subscriptionId)),
    };
  }
  const ofAlarm = (events: readonly Event[], id: string): Event[] =>
    events.filter((event) => String(event['Message']!.value?.text).includes(id));

  it('come as events of conditions, are acknowledged by a login, and that reaches the gateway', async () => {
    const hmi = await connect({ login: SHIFT });
    const { events } = await follow(hmi);
    const since = Date.now() - 60_000;
    await served.beat({ alarms: [alarmNews('pump-1.de-rate-high', { since, says: 'Too many at DE.' })] });
    const raised = await untilTrue(() => ofAlarm(events, 'at DE')[0]);
    expect(raised['ActiveState.Id']!.value).toBe(true);
    expect(raised['AckedState.Id']!.value).toBe(false);
    expect(raised['Severity']!.value).toBe(500);
    expect(raised['Time']!.value.getTime()).toBe(since);
    const condition = resolveNodeId(hmi.node('alarm/pump-1.de-rate-high'));
    const eventId = raised['EventId']!.value as Buffer;
    const status = await hmi.session.acknowledgeCondition(condition, eventId, 'seen on the panel');
    expect(status).toBe(StatusCodes.Good);
    expect(served.asked.at(-1)).toEqual({
      ...{ do: 'operate', alarm: 'pump-1.de-rate-high', act: 'acknowledge', forMs: 0, once: false },
      ...{ who: 'shift', note: 'seen on the panel' },
    });
    const acknowledged = alarmNews('pump-1.de-rate-high', {
      ...{ since, says: 'Acknowledged at DE.', state: 'acknowledged', acknowledged: true },
    });
    await served.beat({ alarms: [acknowledged] });
    const after = await untilTrue(() => ofAlarm(events, 'Acknowledged at DE')[0]);
    expect(after['AckedState.Id']!.value).toBe(true);
    // the event of before is not the one that stands
    expect(await hmi.session.acknowledgeCondition(condition, Buffer.from('nonsense'), '')).toBe(
      StatusCodes.BadEventIdUnknown,
    );
    refusal = 'nothing-to-confirm';
    const last = after['EventId']!.value as Buffer;
    expect(await hmi.session.confirmCondition(condition, last, 'done')).toBe(
      StatusCodes.BadConditionBranchAlreadyConfirmed,
    );
  });

  it('are sent anew by a refresh while they stand', async () => {
    const hmi = await connect();
    await served.beat({ alarms: [alarmNews('pump-2.de-rate-high', { says: 'Again at two.' })] });
    const { events, refresh } = await follow(hmi);
    await refresh();
    await untilTrue(() => ofAlarm(events, 'Again at two')[0]);
    expect(ofAlarm(events, 'Again at two')[0]!['Retain']!.value).toBe(true);
  });

  it('may not be acted on by viewers and guests', async () => {
    await served.beat({ alarms: [alarmNews('fan-a.de-rate-high', { says: 'At the fan.' })] });
    for (const login of [null, GUEST]) {
      const hmi = await connect({ login });
      const eventId = await hmi.read('alarm/fan-a.de-rate-high-EventId');
      const asked = served.asked.length;
      const status = await hmi.session.acknowledgeCondition(
        resolveNodeId(hmi.node('alarm/fan-a.de-rate-high')),
        eventId.value.value as Buffer,
        'mine',
      );
      expect(status).toBe(StatusCodes.BadUserAccessDenied);
      expect(served.asked.length).toBe(asked);
    }
  });

  it('are shelved for a time, once, and unshelved', async () => {
    const hmi = await connect({ login: SHIFT });
    const shelf = hmi.node('alarm/pump-1.de-no-readings-ShelvingState');
    const call = async (method: string, ...inputs: Variant[]): Promise<string> => {
      const { statusCode } = await hmi.session.call({
        ...{ objectId: shelf, methodId: `${shelf}-${method}`, inputArguments: inputs },
      });
      return statusCode.name;
    };
    expect(await call('TimedShelve', new Variant({ dataType: DataType.Double, value: 3_600_000 }))).toBe(
      'Good',
    );
    expect(served.asked.at(-1)).toMatchObject({
      act: 'shelve',
      forMs: 3_600_000,
      once: false,
      alarm: 'pump-1.de-no-readings',
    });
    expect(await call('OneShotShelve')).toBe('Good');
    expect(served.asked.at(-1)).toMatchObject({ act: 'shelve', forMs: 86_400_000, once: true });
    const shelved = alarmNews('pump-1.de-no-readings', {
      state: 'shelved',
      shelvedUntil: Date.now() + 3_600_000,
    });
    await served.beat({ alarms: [shelved] });
    await untilTrue(
      async () =>
        (await hmi.read('alarm/pump-1.de-no-readings-ShelvingState-CurrentState')).value.value?.text ===
        'TimedShelved',
    );
    expect((await hmi.read('alarm/pump-1.de-no-readings-SuppressedOrShelved')).value.value).toBe(true);
    expect(await call('Unshelve')).toBe('Good');
    refusal = 'until-too-far';
    expect(await call('TimedShelve', new Variant({ dataType: DataType.Double, value: 1e9 }))).toBe(
      'BadShelvingTimeOutOfRange',
    );
  });
});

describe('who comes in', () => {
  it('a wrong password does not', async () => {
    await expect(connect({ login: { ...SHIFT, password: 'guess' } })).rejects.toThrow(
      /BadUserAccessDenied|BadIdentityToken/,
    );
  });

  it('a client that nobody has accepted does not, and does once its certificate is accepted', async () => {
    const own = mkdtempSync(join(tmpdir(), 'tallypost-panel-'));
    const secured = { isSecured: true, login: SHIFT, folder: own };
    await expect(connect(secured)).rejects.toThrow();
    const rejected = await untilTrue(() =>
      listCertificates(folder).find(({ state }) => state === 'rejected'),
    );
    expect(rejected).toMatchObject({ application: 'urn:tarn-hollow:panel' });
    expect(rejected.thumbprint).toMatch(/^[0-9a-f]{40}$/);
    expect(existsSync(moveCertificate(folder, rejected, 'accepted'))).toBe(true);
    await untilTrue(async () => {
      try {
        await connect(secured);
        return true;
      } catch {
        return false;
      }
    }, 30_000);
    expect((await open.at(-1)!.read('gateway/status')).value.value).toBeTypeOf('number');
    for (const hmi of open.splice(0)) await hmi.close();
    const [accepted] = listCertificates(folder).filter(({ state }) => state === 'accepted');
    moveCertificate(folder, accepted!, 'rejected');
    await untilTrue(async () => {
      const hmi = await connectHmi({ port: served.port, ...secured }).catch(() => null);
      await hmi?.close();
      return hmi === null;
    }, 30_000);
    rmSync(own, { recursive: true, force: true });
  });

  it('no more sessions than there may be', async () => {
    for (let i = 0; i < 5; i++) await connect();
    await expect(connect()).rejects.toThrow(/BadTooManySessions/);
  });
});

async function untilTrue<T>(holds: () => T | Promise<T>, patienceMs = 10_000): Promise<NonNullable<T>> {
  const end = Date.now() + patienceMs;
  for (;;) {
    const value = await holds();
    if (value !== undefined && value !== null && value !== false) return value;
    if (Date.now() > end) throw new Error(`after ${patienceMs} ms still not: ${holds.toString()}`);
    await sleep(100);
  }
}
