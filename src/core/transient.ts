/**
 * Guards around starts and stops, and the transients that they merge into. An increment that overlaps a guard is not
 * running exposure: brushing contactors, ramps and the first sparks of a cold film would drown what we look for.
 * Source: our choice; lengths come from the configuration.
 */
import type { GatePlan, MotorPlan } from './plan.js';
import type { Edge } from './run-state.js';

export interface Guard {
  from: number;
  to: number;
  edges: number;
  kind: 'start' | 'stop' | 'start-stop' | 'other';
}

type Kind = Guard['kind'];

function isStanding(state: string): boolean {
  return state === 'stopped' || state === 'fault';
}

function kindOf(edge: Edge): Kind {
  const { before, after } = edge;
  if (after.state === 'starting' || (after.state === 'running' && before.state !== 'running')) return 'start';
  if (after.state === 'stopping' || (isStanding(after.state) && !isStanding(before.state))) return 'stop';
  return 'other';
}

function joinKinds(a: Kind, b: Kind): Kind {
  if (a === b || b === 'other') return a;
  return a === 'other' ? b : 'start-stop';
}

/** One edge's guard: widened by the edge's own uncertainty, the clocks', and the ramp of a drive that reports none. */
function guardOf(plan: MotorPlan, gate: GatePlan, edge: Edge): Guard {
  const { before, after } = edge;
  const slack = plan.clockErrorMs;
  const unreportedStart =
    after.state === 'running' && before.state !== 'starting' && before.state !== 'running' ? plan.rampMs : 0;
  const unreportedStop = isStanding(after.state) && before.state === 'running' ? plan.rampMs : 0;
  const from = edge.lo - gate.beforeEdgeMs - slack - unreportedStop;
  let to: number;
  if (after.state === 'running') to = edge.hi + gate.afterRunningMs + slack + unreportedStart;
  else if (isStanding(after.state)) to = edge.hi + gate.afterStoppedMs + slack;
  else to = Math.min(after.to, edge.hi + gate.capMs) + slack;
  return { from, to, edges: 1, kind: kindOf(edge) };
}

/** Guards of all edges, in order; those that overlap or lie within `mergeMs` of one another are one. */
export function findGuards(plan: MotorPlan, gate: GatePlan, edges: readonly Edge[]): Guard[] {
  const guards = edges
    .map((edge) => guardOf(plan, gate, edge))
    .sort((a, b) => a.from - b.from || a.to - b.to);
  const merged: Guard[] = [];
  for (const guard of guards) {
    const last = merged[merged.length - 1];
    if (last !== undefined && guard.from - last.to <= gate.mergeMs) {
      last.to = Math.max(last.to, guard.to);
      last.edges += 1;
      last.kind = joinKinds(last.kind, guard.kind);
    } else {
      merged.push({ ...guard });
    }
  }
  return merged;
}

/** Whether [from, to) overlaps one of the intervals, which are ascending and apart. Touching is not overlapping. */
export function overlapsGuard(guards: readonly Guard[], from: number, to: number): boolean {
  let low = 0;
  let high = guards.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (guards[middle]!.to <= from) low = middle + 1;
    else high = middle;
  }
  const guard = guards[low];
  return guard !== undefined && guard.from < to;
}
