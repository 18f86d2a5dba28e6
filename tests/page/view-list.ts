/** The views that the browser tests look at: an address of each, and what is there once it shows what it has. */
export interface ViewCase {
  readonly name: string;
  readonly path: string;
  /** visible when the view has its data */
  readonly ready: string;
  /** shows nothing that can be pressed */
  readonly isBare?: boolean;
}

export const VIEW_CASES: readonly ViewCase[] = [{ name: 'now', path: '/', ready: '.tile .strip-bars' }];
