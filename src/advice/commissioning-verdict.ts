/**
 * What a step of commissioning showed, in plain words with what to do. Silence is never taken as proof: a bearing that does not
 * discharge is not heard at a start, and only the spark of the function check shows that a sensor counts.
 */
import {
  compareHeard,
  findStateBefore,
  isStill,
  listChanges,
  ownChanges,
  PATIENCE_MS,
  type Heard,
  type StepEvidence,
  type StepKind,
  type Verdict,
  type VerdictState,
} from './commissioning.js';

/** Another motor's sensor must have counted so much more to be suspected. Our choice. */
const OTHERS_TIMES = 2;
const OTHERS_LEAST = 10;
const OTHERS_SHOWN = 10;
const CHANGES_SHOWN = 50;

type Said = readonly [state: VerdictState, says: string, todo: string];

/** The verdict on a step as far as it can be given now. */
export function judgeStep(kind: StepKind, evidence: StepEvidence): Verdict {
  const rows = compareHeard(evidence);
  const own = rows.filter(({ isOwn }) => isOwn);
  const others = rows.filter(({ isOwn, isHeard }) => !isOwn && isHeard).slice(0, OTHERS_SHOWN);
  const judge = { start: judgeStart, stop: judgeStop, check: judgeCheck }[kind];
  const [state, says, todo] = judge(evidence, own, others);
  return {
    ...{ state, says, todo, span: evidence.span },
    drives: listChanges(evidence).slice(-CHANGES_SHOWN),
    sensors: [...own, ...others],
  };
}

function judgeStart(evidence: StepEvidence, own: readonly Heard[], others: readonly Heard[]): Said {
  const { motor, span, now, begunAt, hasRunState } = evidence;
  if (span === null) {
    const strangers = motorsThatChanged(evidence, (state) => state === 'starting' || state === 'running');
    if (strangers.length > 0)
      return [
        'failed',
        `the drive of ${strangers.join(', ')} told a start, that of ${motor} did not`,
        'Either another motor was started, or the reports of two drives are swapped. Put it right and repeat the step.',
      ];
    if (isRunningAlready(evidence))
      return ['failed', `${motor} runs already`, 'Stop it, wait until it stands, and repeat the step.'];
    if (now - begunAt < PATIENCE_MS.start)
      return ['waiting', `waiting for the drive of ${motor} to tell a start`, 'Start this motor now.'];
    return [
      'failed',
      `the drive of ${motor} has told no start within ${PATIENCE_MS.start / 60_000} min`,
      'If the motor did start: see the link of the run state in its wiring.',
    ];
  }
  const waiting = judgeCover(evidence, own);
  if (waiting !== null) return waiting;
  const heard = own.filter(({ isHeard }) => isHeard);
  const run = hasRunState ? 'its drive told the start' : 'it has no run-state signal';
  const doubt = doubtStart(evidence, own, others);
  if (doubt !== null) return ['doubtful', `${run}, but ${doubt[0]}`, doubt[1]];
  if (heard.length === 0)
    return [
      hasRunState ? 'passed' : 'doubtful',
      `${run}; none of its sensors counted more than before`,
      'A bearing that does not discharge is not heard at a start: the function check shows whether the sensors count.',
    ];
  const names = heard.map(({ sensor, pulses }) => `${sensor} (${pulses})`).join(', ');
  const silent = own.filter(({ isHeard }) => !isHeard).map(({ sensor }) => sensor);
  const rest = silent.length === 0 ? '' : `; not heard by ${silent.join(', ')}, which proves nothing`;
  const near = others.filter((each) => excessOf(each) >= OTHERS_LEAST);
  const also = near.map(({ sensor, pulses }) => `${sensor} (${pulses})`).join(', ');
  const uncoupled = near.flatMap(({ sensor }) => (evidence.coupled?.includes(sensor) === true ? [] : sensor));
  return [
    'passed',
    `${run}; heard by ${names}${rest}${also === '' ? '' : `; also heard by ${also}`}`,
    uncoupled.length === 0
      ? ''
      : `${uncoupled.join(', ')} ${uncoupled.length === 1 ? 'hears' : 'hear'} the drive of ${motor} too: name ${motor} in coupledTo there, so that its starts are set aside.`,
  ];
}

/** Sensors of another motor that heard it instead of its own ones. null: none did. */
function doubtStart(
  evidence: StepEvidence,
  own: readonly Heard[],
  others: readonly Heard[],
): readonly [says: string, todo: string] | null {
  const { motor, coupled = [] } = evidence;
  const silent = own.filter(({ isHeard }) => !isHeard).map(({ sensor }) => sensor);
  const louder = others.find((each) => isLouder(each, own));
  const instead = others.find((each) => excessOf(each) >= OTHERS_LEAST && !coupled.includes(each.sensor));
  const suspect = louder ?? (silent.length > 0 ? instead : undefined);
  if (suspect === undefined) return null;
  const says =
    louder !== undefined
      ? `${suspect.sensor} counted more (${suspect.pulses}) than its own sensors`
      : `${suspect.sensor} heard it (${suspect.pulses}), and ${silent.join(', ')} did not`;
  const started = motorsThatChanged(evidence, (state) => state === 'starting' || state === 'running');
  if (started.includes(suspect.motor))
    return [says, `${suspect.motor} started at the same time: repeat the step while only ${motor} starts.`];
  const pair =
    louder !== undefined
      ? `the sensors of ${motor} and ${suspect.motor}`
      : `${silent.join(', ')} and ${suspect.sensor}`;
  return [says, `Look whether ${pair} are swapped; the function checks show it.`];
}

function judgeStop(evidence: StepEvidence, own: readonly Heard[]): Said {
  const { motor, span, now, begunAt } = evidence;
  if (span === null) {
    const strangers = motorsThatChanged(evidence, (state) => state === 'stopped');
    if (strangers.length > 0)
      return [
        'failed',
        `the drive of ${strangers.join(', ')} told a stop, that of ${motor} did not`,
        'Either another motor was stopped, or the reports of two drives are swapped. Put it right and repeat the step.',
      ];
    if (now - begunAt < PATIENCE_MS.stop)
      return ['waiting', `waiting for the drive of ${motor} to tell that it stands`, 'Stop this motor now.'];
    return [
      'failed',
      `the drive of ${motor} has told no standstill within ${PATIENCE_MS.stop / 60_000} min`,
      'If the motor stands: see the link of the run state in its wiring.',
    ];
  }
  const waiting = judgeCover(evidence, own);
  if (waiting !== null) return waiting;
  const counting = own.filter(({ pulses }) => pulses > 0);
  if (counting.length === 0) return ['passed', 'it stands, and its sensors count nothing', ''];
  const names = counting.map(
    ({ sensor, pulses, ms }) => `${sensor} (${pulses} in ${Math.round(ms / 1000)} s)`,
  );
  return [
    'doubtful',
    `at standstill ${names.join(', ')} still counted`,
    'This does not come from its own drive: look for drives near by, radio and switching; couple them in the configuration, or move or shield the sensor.',
  ];
}

function judgeCheck(evidence: StepEvidence, own: readonly Heard[], others: readonly Heard[]): Said {
  const { sensor, now, begunAt, hasRunState } = evidence;
  const row = own.find((each) => each.sensor === sensor);
  const before = findStateBefore(evidence);
  if (hasRunState && before !== null && before.modulating)
    return ['failed', 'the motor runs', 'Stop it and lock it out; the check is made at standstill.'];
  if (hasRunState && ownChanges(evidence).some((each) => !isStill(each)))
    return [
      'failed',
      'the motor was started during the check',
      'Keep clear of it. Stop it, lock it out, and repeat the check: what it counts while it runs is no spark.',
    ];
  if (row?.isHeard === true)
    return judgeSparks(
      row,
      [...own, ...others].filter((each) => each.isHeard && each !== row),
      !hasRunState || before !== null,
    );
  const isOver = now - begunAt >= PATIENCE_MS.check;
  const elsewhere = [...own, ...others].find((each) => each.isHeard && each.sensor !== sensor);
  if (elsewhere !== undefined && row !== undefined && row.ms > 0)
    return [
      'failed',
      `${elsewhere.sensor} counted ${elsewhere.pulses}, ${sensor ?? ''} did not`,
      'The sensors or their cables are swapped, or the spark was made at another one. Put it right and repeat the check.',
    ];
  if (!isOver)
    return [
      'waiting',
      'waiting for a count',
      'Make about ten sparks within a hand of this sensor, with a piezo lighter for example. Not in explosive atmospheres.',
    ];
  if (row === undefined || row.ms === 0)
    return ['failed', 'no reading came meanwhile', 'See the link "seen" in its wiring.'];
  const counted = row.pulses === 0 ? 'nothing' : `${row.pulses}, no more than before`;
  return [
    'failed',
    `${row.sensor} counted ${counted}`,
    'Repeat it closer by. If it stays so: check supply, cable and threshold of the sensor, and replace it.',
  ];
}

/** Sparks that were counted; `isKnown`: whether it is known that the motor stood, or cannot be known of it. */
function judgeSparks(row: Heard, also: readonly Heard[], isKnown: boolean): Said {
  const sparks = `${row.sensor} counted ${row.pulses} ${row.pulses === 1 ? 'spark' : 'sparks'}`;
  const louder = also.find((each) => excessOf(each) > excessOf(row));
  if (louder !== undefined)
    return [
      'doubtful',
      `${sparks}, but ${louder.sensor} counted more (${louder.pulses})`,
      'Make them closer to this sensor and repeat the check; if it stays so, the two sensors or their cables are swapped.',
    ];
  const rest =
    also.length === 0
      ? ''
      : `; also heard by ${also.map(({ sensor, pulses }) => `${sensor} (${pulses})`).join(', ')}`;
  const todo = isKnown
    ? ''
    : 'Nobody says whether the motor stood, and what it counts while it runs is no spark: see the link of the run state in its wiring.';
  return ['passed', `${sparks}${rest}`, todo];
}

/** Waits until readings cover the span; null: they do. */
function judgeCover({ span, now, intervalMs }: StepEvidence, own: readonly Heard[]): Said | null {
  const open = own.filter(({ isCovered }) => !isCovered).map(({ sensor }) => sensor);
  if (open.length === 0) return null;
  if (now < span!.to) return ['waiting', `counting for another ${Math.ceil((span!.to - now) / 1000)} s`, ''];
  if (now < span!.to + 3 * intervalMs + 15_000)
    return ['waiting', `waiting for the readings of ${open.join(', ')}`, ''];
  return [
    'failed',
    `no reading of ${open.join(', ')} covers it`,
    'See the link "seen" in its wiring, then repeat the step.',
  ];
}

function motorsThatChanged(evidence: StepEvidence, isIt: (state: string) => boolean): string[] {
  const found = listChanges(evidence).filter(({ motor, state }) => motor !== evidence.motor && isIt(state));
  return [...new Set(found.map(({ motor }) => motor))];
}

function isRunningAlready(evidence: StepEvidence): boolean {
  return findStateBefore(evidence)?.modulating === true;
}

function excessOf(row: Heard): number {
  return row.pulses - (row.expected ?? 0);
}

function isLouder(other: Heard, own: readonly Heard[]): boolean {
  const most = own.reduce((top, row) => Math.max(top, excessOf(row)), 0);
  return excessOf(other) >= OTHERS_LEAST && excessOf(other) > OTHERS_TIMES * most;
}
