/**
 * Front door: text of a file in, configuration and plan out, or every problem with its place.
 */
import { readFileSync, statSync } from 'node:fs';
import type { Plan } from '../core/plan.js';
import { checkEntry } from './check-motors.js';
import { checkModbus } from './check-modbus.js';
import { checkNotify } from './check-notify.js';
import { checkOpcua } from './check-opcua.js';
import { checkResolution } from './check-setpoints.js';
import { checkSinks } from './check-sinks.js';
import { checkSite } from './check-site.js';
import type { Config, UserConfig } from './config.js';
import { buildDutyGroups } from './duty-groups.js';
import { readEndpoint } from './endpoint.js';
import { expandBraces } from './expansion.js';
import { mergeEntries } from './merge.js';
import { buildMotors } from './motors.js';
import { buildNotify } from './notify.js';
import { buildModbus, buildOpcua } from './plc.js';
import { toPlan } from './plan.js';
import { orderProblems } from './problem.js';
import type { Problem } from './problem.js';
import { Report } from './report.js';
import type { FileContent } from './schema.js';
import { checkShape } from './shape.js';
import { readSource, TEXT_BYTES_MAX, wholeFile } from './source.js';

/** Either all is well (`warnings` may still want a look) or nothing is taken over. */
export type ConfigResult =
  | { readonly ok: true; readonly config: Config; readonly plan: Plan; readonly warnings: Problem[] }
  | { readonly ok: false; readonly problems: Problem[] };

/** Reads and checks a file. A file that cannot be read is a problem, not an exception. */
export function loadConfig(path: string): ConfigResult {
  let bytes: Buffer;
  try {
    const { size } = statSync(path);
    if (size > TEXT_BYTES_MAX)
      return refuse(path, `at most ${TEXT_BYTES_MAX} bytes of YAML`, `${size} bytes`);
    bytes = readFileSync(path);
  } catch (error) {
    return refuse(path, 'a readable file', describeReadError(error));
  }
  try {
    return parseConfig(new TextDecoder('utf-8', { fatal: true }).decode(bytes), path);
  } catch (error) {
    if (error instanceof TypeError && 'code' in error && error.code === 'ERR_ENCODING_INVALID_ENCODED_DATA') {
      return refuse(path, 'text in UTF-8', 'other bytes');
    }
    throw error;
  }
}

/** Checks a text. `fileName` is shown in problems, and its folder is where password files are looked for. */
export function parseConfig(text: string, fileName: string): ConfigResult {
  const { source, problems: textProblems } = readSource(text, fileName);
  if (source === null) return { ok: false, problems: orderProblems(textProblems) };
  const shape = checkShape(source);
  const early = [...textProblems, ...shape.problems];
  if (shape.content === null) return { ok: false, problems: orderProblems(early) };

  const content = shape.content;
  const report = new Report(source, shape.broken);
  const entries = mergeEntries(content, source, report);
  const built = entries.map((entry) => ({ entry, motors: buildMotors(entry, report) }));
  const motors = built.flatMap((each) => each.motors);
  const named = [...new Set(motors.map(({ dutyGroup }) => dutyGroup))];
  const dutyGroups = buildDutyGroups(content.dutyGroups, named, report);
  const config = assemble(content, motors, dutyGroups, fileName);
  const known = config.motors.map(({ key }) => key);
  if (entries.length === 0) report.error(['motors'], 'at least one motor', 'none');
  for (const { entry, motors } of built) {
    const [first] = motors;
    if (first !== undefined) checkEntry(entry, first, known, config.gate.maxIntervalFactor, report);
  }
  checkSite(content, config, report);
  checkNotify(content, config, report);
  checkModbus(content, config, report);
  checkOpcua(content, config, report);
  checkSinks(content, report);
  checkResolution(built, config, report);
  const problems = orderProblems([...early, ...report.errors]);
  if (problems.length > 0) return { ok: false, problems };
  return { ok: true, config, plan: toPlan(config), warnings: report.warnings };
}

function assemble(
  content: FileContent,
  motors: Config['motors'],
  dutyGroups: Config['dutyGroups'],
  file: string,
): Config {
  const { site, timeZone, mqtt, http, storage, core, gate, common, alarms, alarmBudget, baseline } = content;
  const { users, ...limits } = mqtt;
  return {
    file,
    site,
    timeZone,
    mqtt: {
      ...limits,
      listen: readEndpoint(mqtt.listen),
      users: users === undefined ? null : users.map(buildUser),
    },
    http: { listen: readEndpoint(http.listen) },
    storage,
    core,
    gate,
    common,
    alarms,
    alarmBudget,
    notify: buildNotify(content.notify),
    modbus: buildModbus(content.modbus),
    opcua: buildOpcua(content.opcua),
    sinks: content.sinks,
    baseline,
    dutyGroups,
    motors,
  };
}

function buildUser(user: NonNullable<FileContent['mqtt']['users']>[number]): UserConfig {
  const { name, role, passwordFile, passwordEnv } = user;
  const password = passwordFile === undefined ? { env: passwordEnv ?? '' } : { file: passwordFile };
  return {
    name,
    role,
    password,
    sensors: expandAll(user.sensors ?? []),
    motors: expandAll(user.motors ?? []),
  };
}

function expandAll(patterns: readonly string[]): string[] {
  const texts = patterns.flatMap((pattern) => {
    const expansion = expandBraces(pattern);
    return expansion.ok ? expansion.texts : [];
  });
  return [...new Set(texts)];
}

function refuse(file: string, expected: string, found: string): ConfigResult {
  return { ok: false, problems: [wholeFile(file, expected, found)] };
}

function describeReadError(error: unknown): string {
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  const words: Record<string, string> = {
    ENOENT: 'no such file',
    EISDIR: 'a directory',
    EACCES: 'a file that this user may not read',
  };
  return words[code] ?? (error instanceof Error ? error.message : 'an unknown fault');
}
