/**
 * A duty group learns the edges of its bins from its first week: what its motors ran at, ten minutes by ten minutes.
 * Source: our choice of a week (a plant's shortest full cycle) and of the 20 running hours that a baseline needs too.
 */
import { enter } from './journal.js';
import { heldValue } from './bin.js';
import { gridOf, learnsOf, type GroupState, type Learning } from './bin-group.js';
import { addValue, learnEdges } from './bin-learning.js';
import { placeAt } from './place.js';
import { findStretch } from './run-state.js';
import type { CoreState, SensorState } from './state.js';

const WEEK_MS = 7 * 86_400_000;
const RUNNING_MIN_MS = 20 * 3_600_000;
const HOUR_MS = 3_600_000;
const SAMPLE_MS = 600_000;

/** Ten minutes of a sensor are over, of which it ran `ms`: a group that learns takes their last values. */
export function learnFrom(state: CoreState, sensor: SensorState, start: number, ms: number): void {
  const { motor } = sensor;
  const { group } = motor;
  if (group === null || group.learning === null || ms < SAMPLE_MS / 2) return;
  const { learning } = group;
  const end = start + SAMPLE_MS - 1;
  const { stretches } = motor.timeline;
  if (stretches[findStretch(stretches, end)]!.state !== 'running') return;
  const isNew = start > (learning.seen.get(motor.key) ?? -Infinity);
  const index = placeAt(motor.drives, end + 1) - 1;
  for (const { axis, learnSince } of learnsOf(group.plan)) {
    if (start < (learnSince ?? -Infinity)) return;
    let value: number | null = null;
    if (axis !== 'temperature')
      value = isNew ? heldValue({ drives: motor.drives, stretches }, index, axis) : null;
    else if (sensor.temperature !== null) value = sensor.temperature / 10;
    if (value !== null) addValue(learning.values.get(axis)!, value, ms);
  }
  learning.firstAt ??= start;
  if (isNew) {
    learning.seen.set(motor.key, start);
    learning.runningMs += ms;
  }
  state.touchedGroups.add(group);
  if (start + SAMPLE_MS - learning.firstAt >= WEEK_MS && learning.runningMs >= RUNNING_MIN_MS)
    decide(state, group, learning, start + SAMPLE_MS);
}

function decide(state: CoreState, group: GroupState, learning: Learning, at: number): void {
  const said: string[] = [];
  for (const { axis, learn } of learnsOf(group.plan)) {
    const { edges, deadband } = learnEdges(learning.values.get(axis)!, learn);
    group.learnt.push({ axis, edges, halfWidth: deadband / 2 });
    said.push(
      edges.length === 0
        ? `${axis} does not divide: it hardly varied, or nobody reported it`
        : `${axis} at ${edges.join(', ')} (deadband ${deadband})`,
    );
  }
  const from = Math.floor(state.now / HOUR_MS) * HOUR_MS + HOUR_MS;
  group.grid = gridOf(group.plan, group.learnt, from);
  group.learning = null;
  const hours = Math.round(learning.runningMs / HOUR_MS);
  const motors = learning.seen.size === 1 ? '1 motor' : `${learning.seen.size} motors`;
  enter(state, {
    at,
    kind: 'notice',
    subject: group.plan.key,
    from: 'learning',
    to: 'learnt',
    text: `condition bins from ${hours} running hours of ${motors}: ${said.join('; ')}; in force from the next full hour on`,
  });
}
