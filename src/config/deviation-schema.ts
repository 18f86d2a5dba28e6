/** Deviation alarms as they stand in the file: on unless false, every key with a default. */
import { attributeKeys, type AttributeFragment } from './attribute-schema.js';
import { DEFAULT_BASELINE, DEFAULT_DEVIATION_ALARM, type DeviationAlarmKind } from './deviation-defaults.js';
import { decimal, list, mapping, milliseconds, name, optional, orFalse, section } from './leaves.js';

const DAY_MS = 86_400_000;

/** Keys that every kind has. */
function commonShape(kind: DeviationAlarmKind) {
  const defaults = DEFAULT_DEVIATION_ALARM[kind];
  return {
    ...attributeKeys(defaults),
    positions: optional(list(name('a position'), 'positions', 'Which sensors of the motor. Absent: all.')),
  };
}

function deadbandShare(kind: DeviationAlarmKind) {
  return optional(
    decimal(0, 0.9, '', 'Return below factor x (1 - this).'),
    DEFAULT_DEVIATION_ALARM[kind].deadbandShare,
  );
}

const fast = DEFAULT_DEVIATION_ALARM['above-baseline'];

const aboveBaseline = mapping(
  {
    factor: optional(
      decimal(2, 1_000, 'times', 'Raise when the lower limit lies above so many times its own baseline.'),
      fast.factor,
    ),
    deadbandShare: deadbandShare('above-baseline'),
    onDelayMs: optional(
      milliseconds(0, DAY_MS, 'In running time; longer than windowMs, or one burst can raise.'),
      fast.onDelayMs,
    ),
    offDelayMs: optional(milliseconds(0, DAY_MS, 'In running time.'), fast.offDelayMs),
    windowMs: optional(
      milliseconds(60_000, 7_200_000, 'Running time that is judged at once.'),
      fast.windowMs,
    ),
    ...commonShape('above-baseline'),
  },
  'The running rate lies far above its own baseline under like conditions. On unless false.',
);

const abovePeers = mapping(
  {
    factor: optional(
      decimal(2, 1_000, 'times', 'Odd beyond so many times the median of the duty group.'),
      DEFAULT_DEVIATION_ALARM['above-peers'].factor,
    ),
    deadbandShare: deadbandShare('above-peers'),
    ...commonShape('above-peers'),
  },
  'The odd one out of its duty group, on two looks a day apart. On unless false.',
);

const backgroundHigh = mapping(
  {
    setpointPerMin: optional(decimal(0.01, 10_000_000, 'counts a minute', 'Absent: judged by its own past.')),
    factor: optional(
      decimal(1, 1_000, 'times', 'Without a setpoint: times the most that its own past allows.'),
      DEFAULT_DEVIATION_ALARM['background-high'].factor,
    ),
    deadbandShare: deadbandShare('background-high'),
    ...commonShape('background-high'),
  },
  'Counts while its own drive does not switch. On unless false.',
);

export const deviationAlarms = {
  'above-baseline': orFalse(aboveBaseline),
  'above-peers': orFalse(abovePeers),
  rising: orFalse(
    mapping(commonShape('rising'), 'A slow rise above its own baseline, found by the hour. On unless false.'),
  ),
  'silent-in-company': orFalse(
    mapping(commonShape('silent-in-company'), 'A notice: no count while the sisters count. On unless false.'),
  ),
  'background-high': orFalse(backgroundHigh),
};

/** The sections `baseline` of the file. */
export const baselineSection = section(
  {
    ageMaxDays: decimal(1, 36_500, 'days', 'An older baseline is learnt anew.').default(
      DEFAULT_BASELINE.ageMaxDays,
    ),
    unvisitedMaxDays: decimal(
      1,
      36_500,
      'days',
      'A condition not visited for so long is learnt anew.',
    ).default(DEFAULT_BASELINE.unvisitedMaxDays),
  },
  'The baselines that deviation alarms compare with.',
);

/** One kind as it was written. */
export interface DeviationFragment extends AttributeFragment {
  readonly setpointPerMin?: number | undefined;
  readonly factor?: number | undefined;
  readonly deadbandShare?: number | undefined;
  readonly onDelayMs?: number | undefined;
  readonly offDelayMs?: number | undefined;
  readonly windowMs?: number | undefined;
  readonly positions?: readonly string[] | undefined;
}
