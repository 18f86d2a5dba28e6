/**
 * `tallypost alarms`: the list, one alarm with all that it rests on, and what operators do to alarms. A gateway that runs on
 * the data directory is asked; otherwise the store is read, and acts go into it through the same core and transaction.
 */
import type { AlarmMessage } from '../../shared/out-messages.js';
import { writeAlarm } from '../../shared/write-messages.js';
import { filterAlarms, findStranger, findUnacknowledged } from '../api/alarm-filter.js';
import { toAlarmBody } from '../api/body-maps.js';
import { newAlarm } from '../core/alarm.js';
import { REFUSALS } from '../core/alarm-refusals.js';
import type { AlarmRecord } from '../core/alarm-rows.js';
import { findPlanned } from '../core/planned-alarm.js';
import { ALARM_OPTIONS, type AlarmsWish, readAlarmsWish, VERBS } from './alarm-arguments.js';
import { reportHere, reportThere } from './alarm-report.js';
import { describeReport } from './alarm-report-text.js';
import { actThere, listThere, showThere, zoneThere } from './alarm-requests.js';
import { describeAlarm, describeAlarms, describeOutcomes, type Outcome } from './alarm-text.js';
import {
  type Arguments,
  type Command,
  Exit,
  flagOf,
  optionalTextOf,
  type Terminal,
  textOf,
  UsageError,
} from './command.js';
import { CONFIG_OPTION, DATA_OPTION, readConfig } from './config-argument.js';
import { findAddress, GatewayRefusal } from './gateway-client.js';

type Read = NonNullable<ReturnType<typeof readConfig>>;

export const alarmsCommand: Command = {
  name: 'alarms',
  summary: 'list alarms, show one with its evidence, acknowledge, shelve and the like; a report on them',
  about:
    'Lists alarms, shows one with all that it rests on, and takes what operators do to them, with who and why.\n' +
    'While a gateway runs on DIR it is asked; otherwise the store is read, and acts go into it here: the\n' +
    'configuration is needed for them then. Several ids may be given, each is answered for itself; acknowledge\n' +
    'also takes a description instead, and leaves out what is hidden. A shelf always has an end; what is out of\n' +
    'service stays so until it is returned. Hidden alarms go on underneath, and come back as they are then.\n' +
    'confirm says that the corrective action was taken. report tells how many alarms operators got and which are a\n' +
    'nuisance, each figure beside what is published. Before anybody goes near a shaft or terminals: local\n' +
    'rules and licensed practice come first.',
  options: {
    data: DATA_OPTION,
    config: { ...CONFIG_OPTION, required: false, about: 'the configuration; for acts while no gateway runs' },
    http: {
      type: 'string',
      value: 'HOST:PORT',
      about: 'where the gateway listens for HTTP, if not as it said',
    },
    ...ALARM_OPTIONS,
    json: { type: 'boolean', about: 'the answer as one JSON object' },
  },
  positionals: [
    { name: 'VERB', about: 'what to do', least: 0, most: 1, oneOf: VERBS },
    { name: 'ID', about: 'alarms, such as pump-1.de-rate-high', least: 0, most: 500 },
  ],
  examples: [
    'tallypost alarms list --data data',
    'tallypost alarms show pump-1.de-rate-high --data data',
    'tallypost alarms acknowledge pump-1.de-rate-high --data data --who "M. Reed" --note "grease sample ordered"',
    'tallypost alarms acknowledge --zone hall --kind no-readings --data data --who MR --note "switch replaced"',
    'tallypost alarms shelve pump-1.de-rising --data data --until 06:00 --who MR --note "filter is being fitted"',
    'tallypost alarms out-of-service pump-1.de-no-readings --data data --who MR --note "sensor sent in"',
    'tallypost alarms report --data data --from 2026-03-01T00:00:00Z --to 2026-04-01T00:00:00Z --positions 2',
  ],
  async run(args, terminal) {
    const address = findAddress(args, textOf(args, 'data'));
    let read: Read | null = null;
    if (address === null && optionalTextOf(args, 'config') !== null) {
      read = readConfig(args, terminal);
      if (read === null) return Exit.negative;
    }
    const wish = await readAlarmsWish(args, Date.now(), () => askZone(address, read, args));
    try {
      return await answer(wish, address, read, args, terminal);
    } catch (error) {
      if (!(error instanceof GatewayRefusal)) throw error;
      terminal.err(`tallypost alarms: ${error.message} ${error.hint}\n`);
      return Exit.negative;
    }
  },
};

/** The local clock is that of the site. */
async function askZone(address: string | null, read: Read | null, args: Arguments): Promise<string> {
  if (address !== null) return zoneThere(address);
  return demandConfig(read, args).config.timeZone;
}

function demandConfig(read: Read | null, args: Arguments): Read {
  if (read !== null) return read;
  throw new UsageError(
    `No gateway runs on ${textOf(args, 'data')}, and --config FILE is missing.`,
    'Name the configuration, or start the gateway.',
  );
}

async function answer(
  wish: AlarmsWish,
  address: string | null,
  read: Read | null,
  args: Arguments,
  terminal: Terminal,
): Promise<Exit> {
  const isJson = flagOf(args, 'json');
  const write = (body: object, text: string) => terminal.out(isJson ? `${JSON.stringify(body)}\n` : text);
  const zone = isJson || address === null ? (read?.config.timeZone ?? null) : await zoneThere(address);
  if (wish.do === 'list') {
    const { alarms, missing } =
      address === null
        ? { alarms: await listHere(wish, read, args), missing: null }
        : await listThere(wish.criteria, address);
    const rest = missing === null ? '' : `Only alarms of the gateway itself: ${missing}.\n`;
    await write(missing === null ? { alarms } : { alarms, missing }, describeAlarms(alarms, zone) + rest);
    return Exit.ok;
  }
  if (wish.do === 'show') {
    const alarm = await (address === null
      ? showHere(wish.alarm, read, args)
      : showThere(wish.alarm, address));
    await write(alarm, describeAlarm(alarm, zone));
    return Exit.ok;
  }
  if (wish.do === 'report') {
    const report = await (address === null
      ? reportHere(wish, demandConfig(read, args), textOf(args, 'data'))
      : reportThere(wish, address));
    await write(report, describeReport(report));
    return Exit.ok;
  }
  const results = await (address === null ? actHere(wish, read, args) : actThere(wish, address));
  await write({ results }, describeOutcomes(results));
  return results.every(({ done }) => done) ? Exit.ok : Exit.negative;
}

async function readStored(args: Arguments): Promise<AlarmRecord[]> {
  const { openReader } = await import('../store/reader.js');
  const reader = openReader(textOf(args, 'data')); // a folder without a store is told, not made
  try {
    return reader.alarms();
  } finally {
    reader.close();
  }
}

/** Without a configuration nobody knows what the operator is asked to do. */
const NO_ADVICE = { consequence: '', action: '', rationale: '', class: '', timeToRespondMs: null };

function toBody(alarm: AlarmRecord, read: Read | null): AlarmMessage {
  return read === null ? writeAlarm(alarm, NO_ADVICE) : toAlarmBody(alarm, read.plan);
}

async function listHere(
  { criteria }: Extract<AlarmsWish, { do: 'list' }>,
  read: Read | null,
  args: Arguments,
): Promise<AlarmMessage[]> {
  const motors = criteria.zone === undefined ? new Map() : demandConfig(read, args).plan.motors;
  return filterAlarms(await readStored(args), criteria, { motors }).map((alarm) => toBody(alarm, read));
}

async function showHere(id: string, read: Read | null, args: Arguments): Promise<AlarmMessage> {
  const found = (await readStored(args)).find((alarm) => alarm.id === id);
  if (found !== undefined) return toBody(found, read);
  const planned = read === null ? null : findPlanned(read.plan, id);
  if (planned !== null) return toBody(newAlarm(planned), read);
  throw new GatewayRefusal(404, `There is no alarm "${id}".`, REFUSALS['unknown-alarm'][1]);
}

async function actHere(
  wish: Exclude<AlarmsWish, { do: 'list' | 'show' | 'report' }>,
  read: Read | null,
  args: Arguments,
): Promise<Outcome[]> {
  const { config, plan } = demandConfig(read, args);
  const stored = await readStored(args);
  const { who, note } = wish;
  const stranger = wish.do === 'act' ? null : findStranger(wish.criteria, stored, plan);
  if (stranger !== null)
    throw new UsageError(`--${stranger.name}: ${stranger.fault}.`, '"tallypost alarms list" shows them all.');
  const act = wish.do === 'act' ? wish.act : ({ do: 'acknowledge' } as const);
  const alarms =
    wish.do === 'act' ? wish.alarms : findUnacknowledged(stored, wish.criteria, plan).map(({ id }) => id);
  if (alarms.length === 0) return [];
  const { operateOffline } = await import('../engine/offline.js');
  const { minCommitIntervalMs, walBytesMax, retention } = config.storage;
  const settings = {
    dataDir: textOf(args, 'data'),
    plan,
    minCommitIntervalMs,
    storage: { walBytesMax, retention },
  };
  const answers = operateOffline(settings, { do: 'operate', alarms, act, who, note });
  return answers.map(({ alarm: id, refusal, record }) => {
    if (refusal === 'until-past' || refusal === 'until-too-far')
      throw new UsageError(`--until: ${REFUSALS[refusal][0]}`, REFUSALS[refusal][1]);
    const state = record?.state ?? null;
    const says = refusal === null ? '' : REFUSALS[refusal].join(' ');
    return { id, done: refusal === null, state, reason: refusal ?? '', says };
  });
}
