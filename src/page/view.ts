/** What a view is to the shell: an address, a word in the navigation, and a screen that is loaded when it is opened. */
import type { ComponentType } from 'preact';
import type { PageSegment } from '../../shared/page-paths.js';

/** `rest`: parts of the path behind the view's own, decoded. `query`: what follows the question mark. */
export interface ScreenProps {
  readonly rest: readonly string[];
  readonly query: URLSearchParams;
}

export interface View {
  readonly segment: PageSegment;
  /** in the navigation, and in the title of the window */
  readonly title: string;
  /** `hidden`: has an address, and no place in the navigation. `bare`: stands alone, without the shell around it */
  readonly place: 'navigation' | 'hidden' | 'bare';
  /** the screen, in a file of its own that the browser fetches when the view is opened first */
  load(): Promise<ComponentType<ScreenProps>>;
}
