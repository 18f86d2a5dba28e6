/** What moves an alarm: its condition, people, time, the design. Times in ms; `at` is when it happened. */
import type { HeldBy } from '../../shared/alarm-terms.js';
import type { Evidence } from './alarm-rows.js';

/** A person did it. `note`: why, or what was seen; may be empty. */
interface ByPerson<K extends string> {
  readonly kind: K;
  readonly at: number;
  readonly who: string;
  readonly note: string;
}

export interface ShelveInput extends ByPerson<'shelve'> {
  /** the shelf ends then, whatever happens */
  readonly until: number;
  /** it ends with the next return, if that comes first */
  readonly once: boolean;
  /** the latest end that the configuration allows */
  readonly latest: number;
}

/** What people do to alarms. */
export type ActInput =
  | ByPerson<'acknowledge'>
  | ByPerson<'confirm'>
  | ByPerson<'reset'>
  | ShelveInput
  | ByPerson<'unshelve'>
  | ByPerson<'take-out-of-service'>
  | ByPerson<'return-to-service'>;

export type AlarmInput =
  | {
      readonly kind: 'raise';
      readonly at: number;
      readonly evidence: Evidence;
      readonly latching: boolean;
      /** it is known to have ended already, and its return follows: nobody is told */
      readonly over?: boolean;
    }
  | { readonly kind: 'return'; readonly at: number; readonly evidence: Evidence }
  | ActInput
  /** the shelf is over: its time has come, or the one return that it was for; `knownAt`: when that was noticed, if later */
  | { readonly kind: 'expire'; readonly at: number; readonly knownAt?: number }
  /** `rule`: which rule of the design hides it, in words */
  | { readonly kind: 'suppress'; readonly at: number; readonly rule: string }
  | { readonly kind: 'unsuppress'; readonly at: number }
  | { readonly kind: 'hold'; readonly at: number; readonly by: HeldBy }
  | { readonly kind: 'unhold'; readonly at: number }
  /** `under`: id of the alarm that stands for this one and its like */
  | { readonly kind: 'group'; readonly at: number; readonly under: string }
  | { readonly kind: 'ungroup'; readonly at: number };

export type InputKind = AlarmInput['kind'];
export type ActKind = ActInput['kind'];

const ACTS: Readonly<Record<ActKind, true>> = {
  acknowledge: true,
  confirm: true,
  reset: true,
  shelve: true,
  unshelve: true,
  'take-out-of-service': true,
  'return-to-service': true,
};

export function isAct(input: AlarmInput): input is ActInput {
  return Object.hasOwn(ACTS, input.kind);
}
