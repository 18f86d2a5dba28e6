/** The alarm that a receiver gets new records too late: what the site may set of it, and one alarm for each sink. */
import type { ForwardingAlarmPlan } from '../core/plan.js';
import type { Config } from './config.js';
import { attributeKeys, fillAttributes, type AttributeFragment } from './attribute-schema.js';
import { mapping, milliseconds, optional, orFalse } from './leaves.js';

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;

/**
 * Source: our choice. A quarter of an hour outlasts the restart of a server or a network switch, and is far from the days
 * after which records are given up.
 */
export const DEFAULT_FORWARDING_ALARM = {
  limitMs: 15 * MINUTE_MS,
  deadbandMs: 5 * MINUTE_MS,
  onDelayMs: MINUTE_MS,
  offDelayMs: 2 * MINUTE_MS,
  latching: false,
  priority: 'low',
  class: 'gateway',
  timeToRespondMs: DAY_MS,
  rationale:
    'A historian that falls behind shows old values for new; what waits too long in the outbox is given up.',
  action:
    'Look at the receiver, the network to it and the login there; "tallypost sinks status" says what it answers, "tallypost sinks test" tries it.',
  consequence:
    'Who looks at the receiver sees an old plant. Nothing is lost until the outbox is full or its records too old.',
} as const;

export const forwardingAlarmFragment = orFalse(
  mapping(
    {
      limitMs: optional(
        milliseconds(
          10_000,
          DAY_MS,
          'New records may wait for so long; a sink that gathers them first, twice that time longer.',
        ),
        DEFAULT_FORWARDING_ALARM.limitMs,
      ),
      deadbandMs: optional(
        milliseconds(0, DAY_MS, 'It returns when they wait for less than the limit less this.'),
        DEFAULT_FORWARDING_ALARM.deadbandMs,
      ),
      onDelayMs: optional(
        milliseconds(0, DAY_MS, 'The condition must hold this long.'),
        DEFAULT_FORWARDING_ALARM.onDelayMs,
      ),
      offDelayMs: optional(
        milliseconds(0, DAY_MS, 'The condition must be gone this long.'),
        DEFAULT_FORWARDING_ALARM.offDelayMs,
      ),
      ...attributeKeys(DEFAULT_FORWARDING_ALARM),
    },
    'A sink gets new records too late. On unless false.',
  ),
);

type Fragment =
  | (AttributeFragment & {
      readonly [K in 'limitMs' | 'deadbandMs' | 'onDelayMs' | 'offDelayMs']?: number | undefined;
    })
  | false
  | undefined;

type Times = Pick<ForwardingAlarmPlan, 'limitMs' | 'deadbandMs' | 'onDelayMs' | 'offDelayMs'>;

/** As written, else as by default; null: it is off. */
export function fillForwardingAlarm(given: Fragment): (Times & ReturnType<typeof fillAttributes>) | null {
  if (given === false) return null;
  const defaults = DEFAULT_FORWARDING_ALARM;
  return {
    limitMs: given?.limitMs ?? defaults.limitMs,
    deadbandMs: given?.deadbandMs ?? defaults.deadbandMs,
    onDelayMs: given?.onDelayMs ?? defaults.onDelayMs,
    offDelayMs: given?.offDelayMs ?? defaults.offDelayMs,
    ...fillAttributes(given ?? {}, defaults),
  };
}

/** A sink that gathers new records before it sends them is late by that time by design, twice over where one call fails. */
function gatherMs(sink: Config['sinks'][number]): number {
  return sink.kind === 'files' ? 2_000 * sink.everyS : 0;
}

export function planForwardingAlarms(given: Fragment, sinks: Config['sinks']): ForwardingAlarmPlan[] {
  const settings = fillForwardingAlarm(given);
  if (settings === null) return [];
  return sinks.map((sink) => {
    const { name } = sink;
    const limitMs = settings.limitMs + gatherMs(sink);
    const alarm = `${name}-forwarding-behind`;
    const place = { id: `gateway.${alarm}`, motor: 'gateway', alarm, sensor: null, sink: name } as const;
    return { ...place, kind: 'forwarding-behind', ...settings, limitMs };
  });
}
