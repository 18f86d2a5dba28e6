/** What every alarm may say to people, whatever its rule: the same keys under each kind. */
import { flag, milliseconds, name, oneOf, optional, sentence } from './leaves.js';

/** A month: longer is no time to respond. */
const RESPOND_MAX_MS = 31 * 86_400_000;

/** Of one kind, when the file says nothing. */
export interface AttributeDefaults {
  readonly latching: boolean;
  readonly priority: 'low' | 'medium' | 'high';
  readonly class: string;
  readonly timeToRespondMs: number | null;
  readonly action: string;
  readonly consequence: string;
  /** absent: the site must give it */
  readonly rationale?: string;
}

export function attributeKeys(defaults: AttributeDefaults) {
  const why =
    defaults.rationale === undefined
      ? 'Why this setpoint. Needed: no published count is safe, so the site must own it.'
      : 'Why this alarm, and why it is set so.';
  return {
    latching: optional(flag('true: stands until a person resets it.'), defaults.latching),
    priority: optional(
      oneOf(['low', 'medium', 'high'], 'Of the response, not of the cause.'),
      defaults.priority,
    ),
    class: optional(name('Alarms that the site treats alike; a word of its own.'), defaults.class),
    timeToRespondMs: optional(
      milliseconds(
        60_000,
        RESPOND_MAX_MS,
        'Within which the action should begin. null: not stated.',
      ).nullable(),
      defaults.timeToRespondMs,
    ),
    rationale: optional(sentence(why), defaults.rationale),
    action: optional(sentence('What the operator does.'), defaults.action),
    consequence: optional(sentence('What happens if nobody does.'), defaults.consequence),
  };
}

/** The same as they were written; undefined: not written. */
export interface AttributeFragment {
  readonly latching?: boolean | undefined;
  readonly priority?: 'low' | 'medium' | 'high' | undefined;
  readonly class?: string | undefined;
  readonly timeToRespondMs?: number | null | undefined;
  readonly rationale?: string | undefined;
  readonly action?: string | undefined;
  readonly consequence?: string | undefined;
}

/** As written, else as by default. null is a value: no time to respond is stated. */
export function fillAttributes(
  own: AttributeFragment,
  defaults: Required<AttributeDefaults>,
): Required<AttributeDefaults> {
  return {
    latching: own.latching ?? defaults.latching,
    priority: own.priority ?? defaults.priority,
    class: own.class ?? defaults.class,
    timeToRespondMs: own.timeToRespondMs === undefined ? defaults.timeToRespondMs : own.timeToRespondMs,
    rationale: own.rationale ?? defaults.rationale,
    action: own.action ?? defaults.action,
    consequence: own.consequence ?? defaults.consequence,
  };
}
