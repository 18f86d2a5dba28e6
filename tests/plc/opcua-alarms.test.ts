/** Alarms as an HMI sees them, and what comes of its acts. Needs the build. */
import {
  AttributeIds,
  callConditionRefresh,
  ClientMonitoredItem,
  constructEventFilter,
  resolveNodeId,
  TimestampsToReturn,
  Variant,
  DataType,
  StatusCodes,
} from 'node-opcua-client';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { type Hmi } from './opcua-client.js';
import { GUEST, serveOpcua, SHIFT, untilTrue, type OpcuaRig } from './served-opcua.js';
import type { Served } from './served-process.js';
import { alarmNews } from './small-plant.js';

let rig: OpcuaRig;
let served: Served;
let connect: OpcuaRig['connect'];
beforeAll(async () => {
  rig = await serveOpcua();
  ({ served, connect } = rig);
});
afterEach(() => rig.rest());
afterAll(() => rig.stop());

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
  const textOf = (event: Event): string =>
    String((event['Message']!.value as { text?: string } | null)?.text);

  async function follow(hmi: Hmi): Promise<{ events: Event[]; refresh: () => Promise<void> }> {
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
    events.filter((event) => textOf(event).includes(id));

  it('come as events of conditions, are acknowledged by a login, and that reaches the gateway', async () => {
    const hmi = await connect({ login: SHIFT });
    const { events } = await follow(hmi);
    const since = Date.now() - 60_000;
    await served.beat({ alarms: [alarmNews('pump-1.de-rate-high', { since, says: 'Too many at DE.' })] });
    const raised = await untilTrue(() => ofAlarm(events, 'at DE')[0]);
    expect(raised['ActiveState.Id']!.value).toBe(true);
    expect(raised['AckedState.Id']!.value).toBe(false);
    expect(raised['Severity']!.value).toBe(500);
    expect((raised['Time']!.value as Date).getTime()).toBe(since);
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
    rig.refuse('nothing-to-confirm');
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
    const state = 'alarm/pump-1.de-no-readings-ShelvingState-CurrentState';
    await untilTrue(async () => {
      const { value } = await hmi.read(state);
      return (value.value as { text: string } | null)?.text === 'TimedShelved';
    });
    expect((await hmi.read('alarm/pump-1.de-no-readings-SuppressedOrShelved')).value.value).toBe(true);
    expect(await call('Unshelve')).toBe('Good');
    rig.refuse('until-too-far');
    expect(await call('TimedShelve', new Variant({ dataType: DataType.Double, value: 1e9 }))).toBe(
      'BadShelvingTimeOutOfRange',
    );
  });
});
