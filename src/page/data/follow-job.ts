/** Follows something that the gateway does for somebody, a count or a rehearsal, to its end; a question that is not answered is asked again. */
import { fetchBody, GONE_STATUS, toProblem, type ApiProblem } from './api-client.js';
import { watchUntil } from './watch-until.js';

export interface JobToFollow<T> {
  /** below /api/v1 */
  readonly path: string;
  readonly everyMs: number;
  readonly isOver: (job: T) => boolean;
  /** Null: the gateway knows of it no more, because it was started again. */
  readonly take: (job: T | null) => void;
  /** Why no answer came; null: one came. */
  readonly tell: (problem: ApiProblem | null) => void;
}

/** Asks at once. Returns the function that ends it. */
export function followJob<T>({ path, everyMs, isOver, take, tell }: JobToFollow<T>): () => void {
  return watchUntil<T>({
    everyMs,
    isOver,
    load: (signal) => fetchBody<T>(path, {}, signal),
    take: (job) => {
      take(job);
      tell(null);
    },
    fail: (error) => {
      const problem = toProblem(error);
      const isGone = problem.status === GONE_STATUS;
      tell(problem);
      if (isGone) take(null);
      return !isGone;
    },
  });
}
