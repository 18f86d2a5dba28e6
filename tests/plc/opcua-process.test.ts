/** The OPC UA server as an HMI sees it: the client is in this process, the server in its own. Needs the build. */
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import {
  AttributeIds,
  ClientMonitoredItem,
  type DataValue,
  TimestampsToReturn,
  Variant,
  DataType,
  StatusCodes,
} from 'node-opcua-client';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { listCertificates, moveCertificate } from '../../src/plc/opcua-certificates.js';
import { sleep } from '../support/child.js';
import { connectHmi } from './opcua-client.js';
import { serveOpcua, SHIFT, STALE_MS, untilTrue, type OpcuaRig } from './served-opcua.js';
import type { Served } from './served-process.js';
import { driveNews, rateNews } from './small-plant.js';

let rig: OpcuaRig;
let served: Served;
let folder: string;
let connect: OpcuaRig['connect'];
beforeAll(async () => {
  rig = await serveOpcua();
  ({ served, folder, connect } = rig);
});
afterEach(() => rig.rest());
afterAll(() => rig.stop());

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
    // not the time of the last good value, which whoever keeps values by their time would lose
    expect(stale.sourceTimestamp?.getTime()).toBe(at + STALE_MS);
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
    expect((await rig.open.at(-1)!.read('gateway/status')).value.value).toBeTypeOf('number');
    await rig.rest();
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
