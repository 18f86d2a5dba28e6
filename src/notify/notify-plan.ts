/** The routes as the planner needs them: everything resolved. */
import type { Route } from './routes.js';

export interface NotifyPlan {
  readonly site: string;
  /** IANA zone of the site */
  readonly timeZone: string;
  /** what comes within this time of the first goes into one message */
  readonly waitMs: number;
  /** messages that wait for one channel; beyond it the oldest is dropped, into the journal */
  readonly queueMax: number;
  /** a channel that fails for so long is told in the journal */
  readonly failingMs: number;
  readonly routes: ReadonlyMap<string, Route>;
}
