/** What can hold every sender back at once. */

/** Says whether nobody may be read from at the moment, and calls back when that has passed. */
export interface Sluice {
  isShut(): boolean;
  /** `wake` is called once, when it has opened. To be asked only while it is shut. */
  wait(wake: () => void): void;
}

/** Shut while either is. */
export function joinSluices(one: Sluice, other: Sluice): Sluice {
  return {
    isShut: () => one.isShut() || other.isShut(),
    wait: (wake) => (one.isShut() ? one : other).wait(wake),
  };
}
