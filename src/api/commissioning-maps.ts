/** From runs of commissioning as they are kept (ms, camel case) to their bodies. */
import { CAUTIONS } from '../advice/cautions.js';
import type { Verdict } from '../advice/commissioning.js';
import { findNext, tellRun, type KeptRun, type KeptStep } from '../advice/commissioning-run.js';
import { formatUtc, formatUtcOrNull } from '../../shared/time.js';
import type { RunBody } from './commissioning-bodies.js';

/** Whoever starts a motor and makes sparks stands beside a shaft and a terminal box. */
const CAUTION_IDS = [
  'licensed-persons',
  'rotating-shaft',
  'live-terminals',
  'generating-motor',
  'dc-link',
  'automatic-restart',
  'lock-out',
];

const NO_SPARKS = {
  id: 'no-sparks-in-explosive-atmospheres',
  text:
    'Make no sparks, and no function check with a lighter, where an explosive atmosphere may occur: the zones and the permit of ' +
    'the site say where that is.',
  source: 'common practice, no source',
};

export function toRunLine(run: KeptRun): Omit<RunBody, 'steps' | 'cautions' | 'next'> {
  return {
    ...{ id: run.id, motor: run.motor, state: run.state, note: run.note, configuration: run.configuration },
    ...{ opened_at: formatUtc(run.openedAt), opened_by: run.openedBy },
    ...{ closed_at: formatUtcOrNull(run.closedAt), closed_by: run.closedBy },
    says: tellRun(run),
  };
}

/** `steps`: with the verdict of the one that goes on. */
export function toRunBody(run: KeptRun, steps: readonly (KeptStep & { verdict: Verdict })[]): RunBody {
  const judged = { ...run, steps };
  return {
    ...toRunLine(judged),
    next: findNext(judged, ({ verdict }) => verdict?.state ?? 'waiting'),
    steps: steps.map((each) => ({
      ...{ step: each.step, sensor: each.sensor },
      ...{ begun_at: formatUtc(each.begunAt), begun_by: each.begunBy },
      ended_at: formatUtcOrNull(each.endedAt),
      verdict: toVerdictBody(each.verdict),
    })),
    cautions: [...CAUTIONS.filter(({ id }) => CAUTION_IDS.includes(id)), NO_SPARKS],
  };
}

function toVerdictBody({
  state,
  says,
  todo,
  span,
  drives,
  sensors,
}: Verdict): RunBody['steps'][number]['verdict'] {
  return {
    ...{ state, says, todo },
    span: span === null ? null : { from: formatUtc(span.from), to: formatUtc(span.to) },
    drives: drives.map((each) => ({
      ...{ motor: each.motor, at: formatUtc(each.at), state: each.state, modulating: each.modulating },
    })),
    sensors: sensors.map((each) => ({
      ...{ sensor: each.sensor, motor: each.motor, own: each.isOwn, pulses: each.pulses, ms: each.ms },
      ...{ expected: each.expected, heard: each.isHeard, covered: each.isCovered },
    })),
  };
}
