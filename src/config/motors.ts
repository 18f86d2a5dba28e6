/**
 * From merged entries to motors: defaults filled in, names expanded, what a motor must have demanded.
 */
import { readTime } from '../../shared/time.js';
import { fillAttributes } from './attribute-schema.js';
import type {
  CommissioningConfig,
  ConditionAlarmConfig,
  DriveConfig,
  MotorConfig,
  PositionConfig,
  RateAlarmConfig,
} from './config.js';
import { buildDeviationAlarms } from './deviation-alarms.js';
import { expandBraces } from './expansion.js';
import { RESERVED_NAMES } from '../../shared/names.js';
import type { MergedEntry } from './merge.js';
import {
  DEFAULT_CONDITION_ALARM,
  DEFAULT_DEADBAND_SHARE,
  DEFAULT_DRIVE,
  DEFAULT_POSITION,
  DEFAULT_RATE_ALARM,
  DEFAULT_REORDER_EXTRA_MS,
  DEFAULT_ZONE,
  RATE_ALARM_KINDS,
} from './motor-defaults.js';
import type { ConditionAlarmKind, RateAlarmKind } from './motor-defaults.js';
import type { MotorFragment, PositionFragment } from './motor-schema.js';
import type { Report } from './report.js';

/** Most motors whose drives one sensor hears. Our choice: beyond that the sensor hears the whole building. */
const COUPLED_MAX = 100;

/** The motors of one entry, alike but for their names. */
export function buildMotors(entry: MergedEntry, report: Report): MotorConfig[] {
  const { fragment, pattern } = entry;
  const positions = buildPositions(entry, report);
  const shared = {
    pattern,
    zone: fragment.zone ?? DEFAULT_ZONE,
    nameplate: {
      powerKw: fragment.nameplate?.powerKw ?? null,
      frameMm: fragment.nameplate?.frameMm ?? null,
    },
    commissioning: buildCommissioning(fragment.commissioning),
    drive: buildDrive(fragment),
    rateAlarms: RATE_ALARM_KINDS.flatMap((kind) => buildRateAlarm(kind, entry, positions, report)),
    conditionAlarms: buildConditionAlarms(fragment),
    deviationAlarms: buildDeviationAlarms(entry, positions, report),
  };
  return entry.names.map((key) => ({
    key,
    ...shared,
    // without a group of its own a motor is compared with none, rather than with motors on another duty
    dutyGroup: fragment.dutyGroup ?? key,
    // a row of motors may name the whole row: none is coupled to itself
    positions: positions.map((one) => ({
      ...one,
      coupledTo: one.coupledTo.filter((motor) => motor !== key),
    })),
  }));
}

function buildCommissioning(given: MotorFragment['commissioning'] = false): CommissioningConfig | null {
  if (given === false) return null;
  return { until: given === true ? null : readTime(given) };
}

function buildDrive(fragment: MotorFragment): DriveConfig {
  const drive = fragment.drive ?? {};
  return {
    heartbeatMs: drive.heartbeatMs ?? DEFAULT_DRIVE.heartbeatMs,
    rampMs: drive.rampMs ?? DEFAULT_DRIVE.rampMs,
    runState: drive.runState ?? DEFAULT_DRIVE.runState,
    clockErrorMs: drive.clockErrorMs ?? DEFAULT_DRIVE.clockErrorMs,
    switchingKhz: drive.switchingKhz ?? DEFAULT_DRIVE.switchingKhz,
  };
}

function buildPositions(entry: MergedEntry, report: Report): PositionConfig[] {
  const all = Object.entries(entry.fragment.positions ?? {});
  const fitted = all.flatMap(([name, value]) =>
    value === false ? [] : [buildPosition(name, value ?? {}, entry, report)],
  );
  for (const { position } of fitted) {
    if (!RESERVED_NAMES.includes(position)) continue;
    const expected = `a name other than ${RESERVED_NAMES.join(', ')}`;
    report.error(entry.where(['positions', position]), expected, `"${position}"`, { at: 'key' });
  }
  if (fitted.length === 0) {
    const hint = 'name each sensor, such as positions: { de: {} }';
    report.error(
      entry.where(['positions']),
      'at least one position',
      all.length === 0 ? 'none' : 'all of them false',
      { hint, at: 'key' },
    );
  }
  return fitted;
}

function buildPosition(
  position: string,
  fragment: PositionFragment,
  entry: MergedEntry,
  report: Report,
): PositionConfig {
  const intervalMs = fragment.intervalMs ?? DEFAULT_POSITION.intervalMs;
  const coupled = expandCoupled(fragment.coupledTo ?? DEFAULT_POSITION.coupledTo);
  if (coupled.length > COUPLED_MAX) {
    const path = entry.where(['positions', position, 'coupledTo']);
    report.error(path, `at most ${COUPLED_MAX} motors`, `${coupled.length}`);
    coupled.length = 0;
  }
  return {
    position,
    intervalMs,
    counterBits: fragment.counterBits ?? DEFAULT_POSITION.counterBits,
    maxRatePerS: fragment.maxRatePerS ?? null,
    deadTimeUs: fragment.deadTimeUs ?? DEFAULT_POSITION.deadTimeUs,
    coupledTo: coupled,
    clockErrorMs: fragment.clockErrorMs ?? DEFAULT_POSITION.clockErrorMs,
    reorderWaitMs: fragment.reorderWaitMs ?? intervalMs + DEFAULT_REORDER_EXTRA_MS,
  };
}

/** Patterns at fault expand to nothing here; checkEntry reports them. */
function expandCoupled(patterns: readonly string[]): string[] {
  const texts = patterns.flatMap((pattern) => {
    const expansion = expandBraces(pattern);
    return expansion.ok ? expansion.texts : [];
  });
  return [...new Set(texts)].sort();
}

function buildRateAlarm(
  kind: RateAlarmKind,
  entry: MergedEntry,
  positions: readonly PositionConfig[],
  report: Report,
): RateAlarmConfig[] {
  const fragment = entry.fragment.alarms?.[kind];
  if (fragment === undefined || fragment === false) return [];
  const { setpointPerMin, rationale } = fragment;
  if (setpointPerMin === undefined) {
    report.error(
      entry.where(['alarms', kind, 'setpointPerMin']),
      'a setpoint in discharges a minute',
      'nothing',
      { at: 'key' },
    );
  }
  if (rationale === undefined) {
    const hint = 'no published count is safe, so the site says why it chose this one';
    report.error(entry.where(['alarms', kind, 'rationale']), 'the reason for the setpoint', 'nothing', {
      hint,
      at: 'key',
    });
  }
  if (setpointPerMin === undefined || rationale === undefined) return [];
  const { positions: wanted, ...own } = fragment;
  const defined = Object.fromEntries(
    Object.entries(own).filter(([, value]) => value !== undefined),
  ) as Partial<RateAlarmConfig>;
  const deadbandPerMin = fragment.deadbandPerMin ?? setpointPerMin * DEFAULT_DEADBAND_SHARE;
  const names = wanted ?? positions.map(({ position }) => position);
  return [
    {
      ...DEFAULT_RATE_ALARM,
      ...defined,
      confidence: fragment.confidence ?? null,
      kind,
      setpointPerMin,
      rationale,
      deadbandPerMin,
      positions: [...new Set(names)],
    },
  ];
}

function buildConditionAlarms(fragment: MotorFragment): ConditionAlarmConfig[] {
  const kinds = Object.keys(DEFAULT_CONDITION_ALARM) as ConditionAlarmKind[];
  return kinds.flatMap((kind) => {
    const own = fragment.alarms?.[kind] ?? {};
    if (own === false) return [];
    if (kind === 'run-state-lost' && fragment.drive?.runState === 'none') return [];
    const defaults = DEFAULT_CONDITION_ALARM[kind];
    return [
      {
        kind,
        onDelayMs: own.onDelayMs ?? null,
        offDelayMs: own.offDelayMs ?? defaults.offDelayMs,
        ...fillAttributes(own, defaults),
      },
    ];
  });
}
