/** What kind an alarm is of, as far as its transitions care. */

/** Kinds that ask nothing of the operator: nobody is told at once, nothing waits for an acknowledgement. */
const NOTICE_KINDS: readonly string[] = ['silent-in-company', 'zone-burst'];

export function isNotice(kind: string): boolean {
  return NOTICE_KINDS.includes(kind);
}
