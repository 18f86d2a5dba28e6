/** Why something speaks for or against an explanation, in a line: what was observed, and in brackets what follows from it. Pure. */
import type { Hypothesis } from '../data/advice-bodies.js';

/** `One end stands out: DE discharges 49 (44 to 53) times as often as NDE (a contact sits at one end)` */
export function sayGround({ observed, text }: Hypothesis['speaks_for'][number]): string {
  return `${observed.replace(/\.$/, '')} (${text})`;
}
