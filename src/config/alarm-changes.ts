/**
 * Other setpoints and delays written into the text of a configuration file, for a rehearsal by form: comments and everything else stay. A
 * motor that shares its entry with others (`booster-{1..6}`) gets one of its own, so that the change is for it alone.
 */
import { isMap, isScalar, parseDocument, type Document, type Pair, type YAMLMap } from 'yaml';
import type { AlarmChange } from '../../shared/alarm-change.js';
import { expandBraces } from './expansion.js';

/** `rationale`: an alarm that the file does not have wants a reason for its setpoint. */
export type AlarmEdit = AlarmChange & { readonly rationale?: string | undefined };

export type ChangedText =
  { readonly ok: true; readonly text: string } | { readonly ok: false; readonly problems: readonly string[] };

const FIELDS = ['setpointPerMin', 'deadbandPerMin', 'onDelayMs', 'offDelayMs', 'rationale'] as const;

/** Whether the result is a valid configuration is for `parseConfig` to say; here only what cannot be written is told. */
export function changeAlarms(text: string, changes: readonly AlarmEdit[]): ChangedText {
  const document = parseDocument(text, { uniqueKeys: false });
  const motors = document.get('motors', true);
  if (document.errors.length > 0 || !isMap(motors))
    return { ok: false, problems: ['The file has no list of motors that could be read.'] };
  const problems = changes.flatMap((change) => {
    const says = changeOne(document, motors, change);
    return says === null ? [] : [says];
  });
  return problems.length > 0 ? { ok: false, problems } : { ok: true, text: document.toString() };
}

/** Null: done. */
function changeOne(document: Document, motors: YAMLMap, change: AlarmEdit): string | null {
  const { motor, kind } = change;
  const entry = takeEntry(document, motors, motor);
  if (entry === null) return `The file has no motor "${motor}".`;
  const isEmpty = entry.value === null || (isScalar(entry.value) && entry.value.value === null);
  if (isEmpty) entry.value = document.createNode({});
  if (!isMap(entry.value))
    return `The entry of "${motor}" is written in a way that a form cannot change: change the text of the file.`;
  const settings = entry.value;
  for (const name of FIELDS) {
    const value = change[name];
    if (value !== undefined) settings.setIn(['alarms', kind, name], value);
  }
  return null;
}

/** The pair that stands for this motor and no other. Null: there is none. */
function takeEntry(document: Document, motors: YAMLMap, motor: string): Pair | null {
  for (const [place, pair] of motors.items.entries()) {
    const pattern = isScalar(pair.key) ? String(pair.key.value) : '';
    const expansion = expandBraces(pattern);
    const names = expansion.ok ? expansion.texts : [];
    if (!names.includes(motor)) continue;
    if (names.length === 1) return pair;
    const others = names.filter((name) => name !== motor);
    const own = pair.clone();
    own.key = document.createNode(motor);
    pair.key = document.createNode(others.length === 1 ? others[0] : `{${others.join(',')}}`);
    motors.items.splice(place + 1, 0, own);
    return own;
  }
  return null;
}
