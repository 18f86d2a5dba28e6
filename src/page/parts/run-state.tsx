/** The run state of a motor: a small sign of its own shape, and the word. Only a fault and an unknown state stand out. */
import type { MotorBody } from '../data/bodies.js';
import { Moment } from './moment.js';

type RunState = MotorBody['run_state'];

const SIGNS: Readonly<Record<RunState, string>> = {
  running: 'M4 3 13 8 4 13Z',
  starting: 'M3 13 13 13 13 4Z',
  stopping: 'M3 4 3 13 13 13Z',
  stopped: 'M4 4H12V12H4Z',
  fault: 'M3 3 13 13M13 3 3 13',
  unknown: 'M5 6a3 3 0 1 1 4 2.8c-.8.4-1 .9-1 1.7M8 13v.6',
};

export function RunSign({ state }: { state: RunState }) {
  return (
    <svg class={`run-sign run-${state}`} viewBox="0 0 16 16" width="16" height="16" aria-hidden="true">
      <path d={SIGNS[state]} />
    </svg>
  );
}

/** With a word, and since when. A motor without a signal is taken as running, and says so. */
export function RunState({ motor }: { motor: MotorBody }) {
  if (!motor.has_run_state) return <span class="run-state quiet">no run-state signal: taken as running</span>;
  const isOdd = motor.run_state === 'stopped' && motor.modulating;
  return (
    <span class={`run-state ${motor.run_state === 'unknown' ? 'is-stale' : ''}`}>
      <RunSign state={motor.run_state} />{' '}
      {motor.run_state === 'unknown' ? 'run state unknown' : motor.run_state}
      {isOdd && ', yet its drive modulates'}
      {motor.since !== null && (
        <span class="quiet">
          {' '}
          since <Moment at={motor.since} />
        </span>
      )}
    </span>
  );
}
