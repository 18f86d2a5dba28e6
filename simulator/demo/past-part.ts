/** The first part: three hours of the station's past through `tallypost replay`, and what came of them. */
import { runToSuccess } from './program.js';
import type { Station } from './station.js';
import { say, sayHeading, sayTable, tellClock, tellNumber, tellSpan } from './voice.js';

const SHOWN_TRANSIENTS = 6;
const MS_PER_MIN = 60_000;

interface TransientRow {
  readonly motor: string;
  readonly from: string;
  readonly to: string;
  readonly kind: string;
  readonly edges: number;
  readonly sensor: string;
  readonly pulses: number;
}

interface RollupRow {
  readonly sensor: string;
  readonly running_pulses: number;
  readonly running_ms: number;
  readonly transient_pulses: number;
  readonly common_pulses: number;
  readonly background_pulses: number;
}

interface AlarmRow {
  readonly id: string;
  readonly state: string;
  readonly active: boolean;
  readonly since: string;
  /** JSON text */
  readonly evidence: string | null;
}

/** Reads a table of the store through the command line. */
export async function exportRows<T>(
  dataDir: string,
  table: string,
  options: readonly string[] = [],
): Promise<T[]> {
  const text = await runToSuccess(['export', table, '--data', dataDir, '--format', 'ndjson', ...options]);
  return text
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => JSON.parse(line) as T);
}

/** Replays the past and tells it. */
export async function tellPast(station: Station): Promise<void> {
  sayHeading(`The last ${station.pastHours} hours, recorded as they arrived, are played into the gateway`);
  const answer = await runToSuccess([
    'replay',
    '--config',
    station.config,
    '--data',
    station.dataDir,
    '--json',
    station.pastCapture,
  ]);
  const summary = JSON.parse(answer) as { readings: number; seconds: number; readings_per_s: number };
  say(
    `${tellNumber(summary.readings)} readings went through the same core and store as live ones, in ` +
      `${summary.seconds.toFixed(1)} s. On their way some were lost, doubled or late; the ledger will show what that cost.`,
  );
  await tellTransients(station);
  await tellRunning(station);
  await tellAlarms(station);
}

async function tellTransients(station: Station): Promise<void> {
  const rows = await exportRows<TransientRow>(station.dataDir, 'transients');
  const events = new Map<string, TransientRow & { total: number }>();
  for (const row of rows) {
    const key = `${row.motor} ${row.from}`;
    events.set(key, { ...row, total: (events.get(key)?.total ?? 0) + row.pulses });
  }
  const all = [...events.values()].sort((a, b) => a.from.localeCompare(b.from));
  const pulses = all.reduce((sum, event) => sum + event.total, 0);
  sayHeading('Starts and stops are set aside');
  say(
    `${all.length} starts and stops put ${tellNumber(pulses)} pulses aside: they come from the switching, not from ` +
      'the bearing in its stride. The last of them:',
  );
  sayTable(
    ['motor', 'event', 'from', 'guarded for', 'pulses set aside'],
    all
      .slice(-SHOWN_TRANSIENTS)
      .map((event) => [
        event.motor,
        event.edges > 2 ? `${event.kind}, ${event.edges} edges` : event.kind,
        tellClock(event.from, station.timeZone),
        tellSpan(Date.parse(event.to) - Date.parse(event.from)),
        tellNumber(event.total),
      ]),
  );
}

async function tellRunning(station: Station): Promise<void> {
  const rows = await exportRows<RollupRow>(station.dataDir, 'rollups', ['--period', '10m']);
  const bySensor = new Map<string, { running: number; ms: number; aside: number }>();
  for (const row of rows) {
    const sums = bySensor.get(row.sensor) ?? { running: 0, ms: 0, aside: 0 };
    sums.running += row.running_pulses;
    sums.ms += row.running_ms;
    sums.aside += row.transient_pulses + row.common_pulses + row.background_pulses;
    bySensor.set(row.sensor, sums);
  }
  sayHeading('What remains is counted while running, and divided by running time alone');
  sayTable(
    ['sensor', 'running pulses', 'running time', 'a minute', 'set aside'],
    [...bySensor].map(([sensor, { running, ms, aside }]) => [
      sensor,
      tellNumber(running),
      tellSpan(ms),
      ms === 0 ? 'no rate' : tellNumber((running * MS_PER_MIN) / ms),
      tellNumber(aside),
    ]),
  );
}

async function tellAlarms(station: Station): Promise<void> {
  const alarms = await exportRows<AlarmRow>(station.dataDir, 'alarms');
  const standing = alarms.filter((alarm) => alarm.active);
  const returned = alarms.filter((alarm) => !alarm.active && alarm.state !== 'normal');
  const count = standing.length === 1 ? 'One alarm stands' : `${standing.length} alarms stand`;
  sayHeading(standing.length === 0 ? 'No alarm stands' : count);
  for (const alarm of standing) tellAlarm('▲', alarm, station.timeZone);
  if (returned.length > 0) say('Returned to normal meanwhile, but nobody has acknowledged it yet:');
  for (const alarm of returned) tellAlarm('▽', alarm, station.timeZone);
}

function tellAlarm(mark: string, alarm: AlarmRow, timeZone: string): void {
  say(`${mark} ${alarm.id}: ${alarm.state}, since ${tellClock(alarm.since, timeZone)}.`);
  if (alarm.evidence !== null) say(`  Why: ${(JSON.parse(alarm.evidence) as { says: string }).says}`);
}
