/**
 * A rehearsal by form: motors and kinds of alarms with other setpoints, deadbands and delays. The fields begin with what is in force; what
 * stays as it is is not sent.
 */
import { useState } from 'preact/hooks';
import type { RehearsalSettings, SettingRow } from '../data/bodies.js';
import { motorKeys } from '../data/plant.js';
import { ProblemNote } from '../parts/problem-note.js';
import { useWhole } from '../parts/use-body.js';
import { MINUTE_MS } from '../times.js';
import { spanStart, SpanChoice } from './rehearsal-span.js';
import type { AlarmChange, RehearsalState } from './rehearsal-jobs.js';

const ROWS_MOST = 20;
const KINDS = ['rate-high', 'rate-high-high'] as const;
type Kind = (typeof KINDS)[number];
const KIND_NAMES: Readonly<Record<Kind, string>> = {
  'rate-high': 'rate high',
  'rate-high-high': 'rate high-high',
};

/** As it is typed; empty: not said. */
interface Row {
  readonly motor: string;
  readonly kind: Kind;
  readonly setpoint: string;
  readonly deadband: string;
  readonly onDelayMin: string;
  readonly offDelayMin: string;
}
type Field = 'setpoint' | 'deadband' | 'onDelayMin' | 'offDelayMin';

const FIELDS: readonly (readonly [field: Field, name: string, step: string])[] = [
  ['setpoint', 'Setpoint, per min', 'any'],
  ['deadband', 'Deadband, per min', 'any'],
  ['onDelayMin', 'On-delay, min', 'any'],
  ['offDelayMin', 'Off-delay, min', 'any'],
];

function findSetting(settings: readonly SettingRow[], motor: string, kind: Kind): SettingRow | null {
  return settings.find((each) => each.motor === motor && each.kind === kind) ?? null;
}

/** What is in force; without such an alarm the fields are empty. */
function fillRow(motor: string, kind: Kind, settings: readonly SettingRow[]): Row {
  const found = findSetting(settings, motor, kind);
  if (found === null) return { motor, kind, setpoint: '', deadband: '', onDelayMin: '', offDelayMin: '' };
  return {
    ...{ motor, kind, setpoint: String(found.setpoint_per_min), deadband: String(found.deadband_per_min) },
    ...{
      onDelayMin: String(found.on_delay_ms / MINUTE_MS),
      offDelayMin: String(found.off_delay_ms / MINUTE_MS),
    },
  };
}

/** Null: nothing is changed. */
function readChange(row: Row, settings: readonly SettingRow[]): AlarmChange | null {
  const before = fillRow(row.motor, row.kind, settings);
  const told = (field: Field, factor: number): number | undefined =>
    row[field] === before[field] || row[field] === '' ? undefined : Number(row[field]) * factor;
  const [setpoint, deadband] = [told('setpoint', 1), told('deadband', 1)];
  const [onDelay, offDelay] = [told('onDelayMin', MINUTE_MS), told('offDelayMin', MINUTE_MS)];
  if ([setpoint, deadband, onDelay, offDelay].every((each) => each === undefined)) return null;
  return {
    ...{ motor: row.motor, kind: row.kind },
    ...(setpoint === undefined ? {} : { setpoint_per_min: setpoint }),
    ...(deadband === undefined ? {} : { deadband_per_min: deadband }),
    ...(onDelay === undefined ? {} : { on_delay_ms: Math.round(onDelay) }),
    ...(offDelay === undefined ? {} : { off_delay_ms: Math.round(offDelay) }),
  };
}

interface RowProps {
  readonly row: Row;
  readonly settings: readonly SettingRow[];
  readonly onChange: (row: Row) => void;
  /** null: it is the only one */
  readonly onRemove: (() => void) | null;
}

function RowFields({ row, settings, onChange, onRemove }: RowProps) {
  const isThere = findSetting(settings, row.motor, row.kind) !== null;
  return (
    <fieldset class="setpoint-row">
      <legend>
        {row.motor}, {KIND_NAMES[row.kind]}
        {!isThere && ' (not in force now: it is added)'}
      </legend>
      <label>
        Motor
        <select
          value={row.motor}
          onChange={(event) => onChange(fillRow(event.currentTarget.value, row.kind, settings))}
        >
          {(motorKeys.value ?? []).map((key) => (
            <option key={key} value={key}>
              {key}
            </option>
          ))}
        </select>
      </label>
      <label>
        Alarm
        <select
          value={row.kind}
          onChange={(event) => onChange(fillRow(row.motor, event.currentTarget.value as Kind, settings))}
        >
          {KINDS.map((kind) => (
            <option key={kind} value={kind}>
              {KIND_NAMES[kind]}
            </option>
          ))}
        </select>
      </label>
      {FIELDS.map(([field, name, step]) => (
        <label key={field}>
          {name}
          <input
            {...{ type: 'number', min: '0', step, inputMode: 'decimal' }}
            name={field}
            value={row[field]}
            required={isThere || field === 'setpoint'}
            onInput={(event) => onChange({ ...row, [field]: event.currentTarget.value })}
          />
        </label>
      ))}
      {onRemove !== null && (
        <button type="button" aria-label={`Remove the change of ${row.motor}`} onClick={onRemove}>
          Remove
        </button>
      )}
    </fieldset>
  );
}

export function SetpointForm({ state }: { state: RehearsalState }) {
  const { body, problem } = useWhole<RehearsalSettings>('/rehearsals/settings', 'settings');
  const [rows, setRows] = useState<readonly Row[] | null>(null);
  const [says, setSays] = useState('');
  if (body === null)
    return problem === null ? <p role="status">Loading…</p> : <ProblemNote problem={problem} />;
  const { settings } = body;
  const begin = settings[0]?.motor ?? motorKeys.value?.[0] ?? '';
  const shown = rows ?? [fillRow(begin, 'rate-high', settings)];
  const submit = (event: SubmitEvent & { currentTarget: HTMLFormElement }): void => {
    event.preventDefault();
    const changes = shown.flatMap((row) => readChange(row, settings) ?? []);
    setSays(changes.length === 0 ? 'Nothing is changed yet: give another setpoint, deadband or delay.' : '');
    if (changes.length > 0) void state.begin({ changes, from: spanStart(event.currentTarget) });
  };
  return (
    <form class="candidate panel" aria-label="Other setpoints" onSubmit={submit}>
      <p>
        The fields hold what is in force. Change some, and see what would have been raised. Nothing of it is
        put in force.
      </p>
      {shown.map((row, place) => (
        <RowFields
          key={place}
          {...{ row, settings }}
          onChange={(next) => setRows(shown.map((each, at) => (at === place ? next : each)))}
          onRemove={shown.length < 2 ? null : () => setRows(shown.filter((_, at) => at !== place))}
        />
      ))}
      <div class="filters">
        <SpanChoice />
      </div>
      <div class="act-form-buttons">
        <button type="submit" class="primary" disabled={state.job?.state === 'running'}>
          Rehearse these setpoints
        </button>
        <button
          type="button"
          disabled={shown.length >= ROWS_MOST}
          onClick={() => setRows([...shown, fillRow(shown.at(-1)!.motor, 'rate-high', settings)])}
        >
          Another motor
        </button>
      </div>
      <p role="status">{says}</p>
    </form>
  );
}
