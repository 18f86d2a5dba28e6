/**
 * When what fell silent was cut off, as narrowly as can be said: after the last that was heard of it, and before the next
 * that was due. Two silences whose times overlap may have one cause, such as a network switch.
 */
import type { Stretch } from './run-state.js';
import type { MotorState, SensorState } from './state.js';

/** Milliseconds since the epoch, both inclusive. */
export interface Span {
  readonly from: number;
  readonly to: number;
}

/** Messages take their time on the way. */
export const SLACK_MS = 5_000;
/** Drives whose reports end within so long of one another ended for one reason; heartbeats of up to 40 s spread by as much. */
export const AT_ONCE_MS = 120_000;

function overlap(spans: readonly Span[]): Span | null {
  if (spans.length === 0) return null;
  const from = Math.max(...spans.map((span) => span.from));
  return { from, to: Math.max(from, Math.min(...spans.map((span) => span.to))) };
}

/** Of sensors that send nothing any more. Null: there are none. */
export function cutOffOfSensors(silent: readonly SensorState[]): Span | null {
  return overlap(
    silent.map(({ lastReceivedAt, plan }) => ({
      from: lastReceivedAt,
      to: lastReceivedAt + plan.intervalMs + SLACK_MS,
    })),
  );
}

/** Of drives of whose run state nothing is known; `lost`: the stretch of each in which it is not. Null: there are none. */
export function cutOffOfDrives(
  lost: readonly { readonly motor: MotorState; readonly since: Stretch['from'] }[],
): Span | null {
  return overlap(
    lost.map(({ motor, since }) => {
      const heardAt = motor.drives.at(-1)?.receivedAt ?? 0;
      // one that reports changes only was given up when its reporter was: some keep-alives after the cut
      const longestMs = Math.max(AT_ONCE_MS, 3 * (motor.plan.heartbeatMs ?? 0));
      return { from: Math.max(heardAt, since - longestMs), to: since + SLACK_MS };
    }),
  );
}

export function isAtOnce(a: Span, b: Span): boolean {
  return a.from <= b.to && b.from <= a.to;
}
