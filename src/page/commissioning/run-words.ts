/** A run of commissioning as the steps that it should have, each with what was tried. Pure. */
import type { RunBody, RunStep } from '../data/station-bodies.js';
import type { VerdictKind } from '../parts/verdicts.js';

export interface WantedStep {
  readonly key: string;
  readonly step: RunStep['step'];
  /** of a check; null: another step */
  readonly sensor: string | null;
  /** in order of time; the last one counts */
  readonly tries: readonly RunStep[];
}

/** A start, a stop and a check of each sensor; `sensors`: those of the motor now. Sensors that were checked are never left out. */
export function listWantedSteps(run: RunBody, sensors: readonly string[]): WantedStep[] {
  const checked = run.steps.flatMap(({ sensor }) => sensor ?? []);
  const places = [...new Set([...sensors, ...checked])];
  const wanted = [
    { step: 'start' as const, sensor: null },
    { step: 'stop' as const, sensor: null },
    ...places.map((sensor) => ({ step: 'check' as const, sensor })),
  ];
  return wanted.map(({ step, sensor }) => ({
    ...{ key: sensor ?? step, step, sensor },
    tries: run.steps.filter((each) => each.step === step && each.sensor === sensor),
  }));
}

export function nameStep(step: RunStep['step'], sensor: string | null, motor: string): string {
  if (step === 'start') return `Start ${motor}`;
  if (step === 'stop') return `Stop ${motor}`;
  return `Function check of ${sensor ?? ''}`;
}

/** What the person beside the motor does, and what it shows. */
export const STEP_GUIDES: Readonly<Record<RunStep['step'], string>> = {
  start:
    'This page starts nothing. Press, then have this motor started by its usual means. It shows whether its own drive tells the start, and which sensors hear it: whether this is the right motor.',
  stop: 'This page stops nothing. Press, then have this motor stopped and leave it standing. What its sensors still count then is background.',
  check:
    'The motor stands and is locked out. Press, then make about ten sparks near this sensor, for example with a piezo lighter: they must be counted. Common practice, no source.',
};

/** With a capital, unless it begins with the name of a motor or a sensor: names are written as they are. */
export function toSentence(says: string): string {
  return /^[a-z]+(?=[ ,;.])/.test(says) ? `${says.charAt(0).toUpperCase()}${says.slice(1)}.` : `${says}.`;
}

export const BEGIN_WORDS: Readonly<Record<RunStep['step'], string>> = {
  start: 'It is started now',
  stop: 'It is stopped now',
  check: 'Sparks are made now',
};

const VERDICT_WORDS: Readonly<Record<RunStep['verdict']['state'], readonly [VerdictKind, string]>> = {
  waiting: ['busy', 'Goes on'],
  passed: ['good', 'Passed'],
  doubtful: ['look', 'Look at it'],
  failed: ['wrong', 'Failed'],
};

/** Of one attempt: what was ended before it came to anything goes on no more. */
export function nameVerdict({ verdict, ended_at: ended }: RunStep): readonly [VerdictKind, string] {
  return verdict.state === 'waiting' && ended !== null
    ? ['unknown', 'Ended early']
    : VERDICT_WORDS[verdict.state];
}

export const RUN_WORDS: Readonly<Record<RunBody['state'], readonly [VerdictKind, string]>> = {
  open: ['busy', 'Goes on'],
  passed: ['good', 'Passed'],
  doubtful: ['look', 'Doubts remain'],
  failed: ['wrong', 'Failed'],
  incomplete: ['unknown', 'Not complete'],
  abandoned: ['unknown', 'Abandoned'],
};

/** The cautions that belong beside the button of a function check. */
export const SPARK_CAUTIONS = ['no-sparks-in-explosive-atmospheres', 'licensed-persons', 'live-terminals'];
