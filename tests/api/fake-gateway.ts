/** A gateway in memory for tests of the HTTP interface: the smallest plant that has one of everything. */
import type {
  AlarmWish,
  ApiDeps,
  ApiReader,
  EntryWish,
  LedgerRow,
  LiveNews,
  Page,
} from '../../src/api/deps.js';
import { makeFakeAdvice, type FakeAdvice } from './fake-advice.js';
import { makeFakeCharts, type FakeCharts } from './fake-charts.js';
import { makeFakeRehearsals } from './fake-rehearsals.js';
import type { Plan } from '../../src/core/plan.js';
import type { ActInput } from '../../src/core/alarm-inputs.js';
import { moveAlarm } from '../../src/core/alarm-table.js';
import type { ActAnswer, AlarmRecord } from '../../src/core/alarm-rows.js';
import { INTACT, makeFakeJournal } from './fake-journal.js';
import { makeDayStrip, STRIP_STEP_MS } from '../../src/core/day-strip.js';
import { countTime } from '../../src/core/timed-count.js';
import { countRows } from './fake-counts.js';
import { makeFakeForward } from './fake-forward.js';
import { makeFakeNotify } from './fake-notify.js';
import { done, found, life, maintain, NOW } from './fake-entries.js';
import { alarm, drive, evidence, rate, sums, transient } from './fake-rows.js';
import {
  makeFakeCommissioning,
  makeFakeStation,
  makeFakeWiring,
  type FakeCommissioning,
  type FakeStation,
  type FakeWiring,
} from './fake-station.js';

export { alarm, NOW, rate };
const HEARTBEAT_MS = 30_000;

const plan = {
  site: 'plant-a',
  groupAlarms: {},
  revision: 'abc123',
  motors: new Map([
    [
      'pump-1',
      {
        key: 'pump-1',
        zone: 'hall',
        dutyGroup: 'pumps',
        hasRunState: true,
        heartbeatMs: HEARTBEAT_MS,
        rampMs: 0,
        clockErrorMs: 1000,
      },
    ],
  ]),
  sensors: new Map([
    ['pump-1/de', { key: 'pump-1/de', motor: 'pump-1', position: 'de', deadTimeS: 0, intervalMs: 10_000 }],
  ]),
  gate: { beforeEdgeMs: 2_000, afterRunningMs: 5_000, afterStoppedMs: 10_000, capMs: 120_000 },
  rateAlarms: [
    {
      ...{ motor: 'pump-1', sensor: 'pump-1/de', kind: 'rate-high', setpointPerMin: 120, deadbandPerMin: 20 },
      ...{ onDelayMs: 600_000, offDelayMs: 600_000, priority: 'low' },
      ...{ id: alarm.id, action: 'Take a grease sample.', consequence: 'The raceway is eroded.' },
      ...{ rationale: 'Twice what its sisters count.', class: 'condition', timeToRespondMs: 86_400_000 },
    },
  ],
  conditionAlarms: [],
  deviationAlarms: [],
} as unknown as Plan;

export interface FakeGateway extends ApiDeps {
  readonly advice: FakeAdvice;
  readonly station: FakeStation;
  readonly wiring: FakeWiring;
  readonly commissioning: FakeCommissioning;
  readonly charts: FakeCharts;
  plan: ApiDeps['plan'];
  standing: ApiDeps['standing'];
  trustClock: ApiDeps['trustClock'];
  emit(news: LiveNews): void;
  readonly acts: string[];
  /** of the store, and of the gateway itself */
  alarms: AlarmRecord[];
  own: AlarmRecord[];
  readonly wishes: EntryWish[];
  readonly faults: unknown[];
  reasons: string[];
  clock: number;
  failReads: boolean;
}

function pageOf<T>(items: readonly T[], limit: number, cursor: string | null): Page<T> {
  const start = cursor === null ? 0 : Number(cursor);
  const end = start + limit;
  return { items: items.slice(start, end), next: end < items.length ? String(end) : null };
}

const rollups = Array.from({ length: 5 }, (_, i) => ({
  sensor: 'pump-1/de',
  period: '1m' as const,
  start: NOW - (5 - i) * 60_000,
  pulses: sums(i === 2 ? 0 : 90),
  ms: sums(i === 2 ? 0 : 60_000),
  uncertainMs: 0,
  bins: [],
  revision: 0,
}));

const journal = makeFakeJournal(alarm.id, evidence);

const balance: LedgerRow = {
  sensor: 'pump-1/de',
  balanced: true,
  counted: 93,
  classified: 93,
  pending: 0,
  pulses: sums(90),
  ms: sums(60_000),
  unknown: [],
};

const diagnostic = {
  subject: 'pump-1/de',
  kind: 'duplicate',
  count: 2,
  firstAt: NOW,
  lastAt: NOW,
  detail: 'same key twice',
};
const refused = {
  at: NOW,
  reason: 'count is negative',
  topic: 't',
  client: 'c',
  size: 3,
  firstBytes: Buffer.from('{"c'),
};

/** `fails`: whether reading drives and alarms fails by a fault of ours. */
function makeReader(
  fails: () => boolean,
  alarms: () => readonly AlarmRecord[],
  more: Pick<FakeGateway, 'wiring' | 'commissioning'>,
): ApiReader {
  return {
    ...more.wiring,
    ...more.commissioning,
    sensors: () => Promise.resolve([{ sensor: 'pump-1/de', device: 'SN-0412', lastReadingAt: NOW - 4_000 }]),
    drives: () => (fails() ? Promise.reject(new Error('secret path /x/y')) : Promise.resolve([drive])),
    lastTransients: () => Promise.resolve([transient]),
    rollups: ({ limit, cursor, sensor }) => {
      const found = rollups.filter((row) => sensor === null || row.sensor === sensor);
      return Promise.resolve(pageOf(found, limit, cursor));
    },
    transients: ({ limit, cursor, motor }) =>
      Promise.resolve(pageOf(motor === null || motor === transient.motor ? [transient] : [], limit, cursor)),
    bearingLives: () => Promise.resolve([life]),
    count: (query) => Promise.resolve(countTime(query, countRows(query))),
    strips: (from) =>
      Promise.resolve([
        makeDayStrip('pump-1/de', [
          { step: Math.floor((NOW - from) / STRIP_STEP_MS), runningPulses: 90, ms: sums(60_000) },
        ]),
      ]),
    actions: ({ limit, cursor, motor }) =>
      Promise.resolve(pageOf(motor === 'pump-1' ? [done] : [], limit, cursor)),
    findings: ({ limit, cursor, motor }) =>
      Promise.resolve(pageOf(motor === 'pump-1' ? [found] : [], limit, cursor)),
    alarms: () => (fails() ? Promise.reject(new Error('secret path /x/y')) : Promise.resolve(alarms())),
    journal: ({ limit, cursor, subject, order }) => {
      const rows = journal.filter((row) => subject === null || row.subject === subject);
      return Promise.resolve(pageOf(order === 'newest' ? rows.toReversed() : rows, limit, cursor));
    },
    journalSince: ({ id, limit }) => Promise.resolve(journal.filter((row) => row.id > id).slice(0, limit)),
    journalEnd: () => Promise.resolve(journal.at(-1)?.id ?? 0),
    journalProof: (expected) => Promise.resolve(expected === null ? INTACT : { ...INTACT, expectedId: 1 }),
    ledger: () => Promise.resolve([balance]),
    diagnostics: () => Promise.resolve([diagnostic]),
    quarantine: () => Promise.resolve({ items: [refused], next: null }),
  };
}

/** The core's own table on the one alarm there is. */
function operate(gateway: FakeGateway, { alarms, act, who, note }: AlarmWish): ActAnswer[] {
  return alarms.map((id) => {
    const record = gateway.alarms.find((each) => each.id === id);
    if (record === undefined) return { alarm: id, refusal: 'unknown-alarm', record: null };
    const shelf = act.do === 'shelve' ? { ...act, latest: NOW + 86_400_000 } : {};
    const move = moveAlarm(record, { ...shelf, kind: act.do, at: NOW, who, note } as ActInput, NOW);
    if (move.refusal !== null) return { alarm: id, refusal: move.refusal, record };
    gateway.alarms = gateway.alarms.map((each) => (each.id === id ? move.after : each));
    gateway.acts.push(`${act.do} ${who}: ${note}`);
    return { alarm: id, refusal: null, record: move.after };
  });
}

function copyTo(path: string): Promise<{ bytes: number }> {
  if (path.includes('taken'))
    return Promise.reject(
      Object.assign(new Error('It is there already.'), { code: 'exists', hint: 'Take another name.' }),
    );
  if (!path.includes('full')) return Promise.resolve({ bytes: 4096 });
  return Promise.reject(
    Object.assign(new Error('No space is left.'), { code: 'ENOSPC', hint: 'Free some space.' }),
  );
}

export function makeFakeGateway(): FakeGateway {
  const listeners = new Set<(news: LiveNews) => void>();
  const more = { wiring: makeFakeWiring(NOW), commissioning: makeFakeCommissioning() };
  const gateway: FakeGateway = {
    version: '1.2.3',
    timeZone: 'Europe/London',
    acts: [],
    alarms: [alarm],
    own: [],
    wishes: [],
    faults: [],
    reasons: [],
    clock: NOW,
    failReads: false,
    plan: () => plan,
    now: () => gateway.clock,
    reader: makeReader(
      () => gateway.failReads,
      () => gateway.alarms,
      more,
    ),
    ...more,
    station: makeFakeStation(NOW),
    advice: makeFakeAdvice(),
    charts: makeFakeCharts(),
    standing: () =>
      Promise.resolve({
        floodSince: NOW - 300_000,
        ownAlarms: gateway.own,
        unreadyReasons: gateway.reasons,
      }),
    rehearsals: makeFakeRehearsals(),
    notify: makeFakeNotify(),
    forward: makeFakeForward(),
    subscribeLive(listener) {
      listeners.add(listener);
      return () => void listeners.delete(listener);
    },
    operate: (wish) => Promise.resolve(operate(gateway, wish)),
    maintain: (wish) => Promise.resolve(maintain(gateway.wishes, wish)),
    backup: copyTo,
    trustClock: (who) => {
      gateway.acts.push(`clock ${who}`);
      [gateway.own, gateway.reasons] = [[], []];
      return Promise.resolve();
    },
    metrics: () =>
      Promise.resolve([
        {
          name: 'readings',
          type: 'counter',
          help: 'Readings taken.',
          values: [{ labels: { sensor: 'a"b' }, value: 7 }],
        },
      ]),
    logFault: (error) => void gateway.faults.push(error),
    emit: (news) => listeners.forEach((listener) => listener(news)),
  };
  return gateway;
}
