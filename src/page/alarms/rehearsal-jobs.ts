/** Rehearsals of this gateway: begun, watched until they end, cancelled. */
import { useEffect, useState } from 'preact/hooks';
import { deleteAt, fetchBody, postBody, toProblem, type ApiProblem } from '../data/api-client.js';
import type { Rehearsal, Rehearsals } from '../data/bodies.js';
import { followJob } from '../data/follow-job.js';
import { watchUntil } from '../data/watch-until.js';

const WATCH_MS = 700;
/** between attempts to learn which is the newest */
const FIND_MS = 5_000;

/** As the request has it: what is left out stays. */
export interface AlarmChange {
  readonly motor: string;
  readonly kind: 'rate-high' | 'rate-high-high';
  readonly setpoint_per_min?: number;
  readonly deadband_per_min?: number;
  readonly on_delay_ms?: number;
  readonly off_delay_ms?: number;
}

/** Without `configuration`: the file as it is, with the changes. */
export interface RehearsalWish {
  readonly configuration?: string;
  readonly changes?: readonly AlarmChange[];
  readonly from?: string;
}

export interface RehearsalState {
  readonly job: Rehearsal | null;
  readonly problem: ApiProblem | null;
  begin(wish: RehearsalWish): Promise<void>;
  cancel(): Promise<void>;
}

/** Asks until it is answered which rehearsal is the newest; null: there is none. */
function findNewest(
  take: (id: string | null) => void,
  tell: (problem: ApiProblem | null) => void,
): () => void {
  return watchUntil<Rehearsals>({
    everyMs: FIND_MS,
    load: (signal) => fetchBody<Rehearsals>('/rehearsals', {}, signal),
    take: ({ rehearsals }) => {
      take(rehearsals[0]?.id ?? null);
      tell(null);
    },
    isOver: () => true,
    fail: (error) => {
      tell(toProblem(error));
      return true;
    },
  });
}

/** The newest rehearsal, with its result once there is one. */
export function useRehearsal(): RehearsalState {
  const [job, setJob] = useState<Rehearsal | null>(null);
  const [refused, setRefused] = useState<ApiProblem | null>(null);
  const [missed, setMissed] = useState<ApiProblem | null>(null);
  const [id, setId] = useState<string | null>(null);
  const guard = async (act: () => Promise<void>): Promise<void> => {
    try {
      setRefused(null);
      await act();
    } catch (error) {
      setRefused(toProblem(error));
    }
  };
  // one that was begun meanwhile is newer
  useEffect(() => findNewest((found) => setId((last) => last ?? found), setMissed), []);
  useEffect(() => {
    if (id === null) return undefined;
    return followJob<Rehearsal>({
      ...{ path: `/rehearsals/${id}`, everyMs: WATCH_MS, take: setJob, tell: setMissed },
      isOver: ({ state }) => state !== 'running',
    });
  }, [id]);
  return {
    job,
    problem: refused ?? missed,
    begin: (wish) =>
      guard(async () => {
        const begun = await postBody<Rehearsal>('/rehearsals', wish);
        setJob(begun);
        setId(begun.id);
      }),
    cancel: () =>
      guard(async () => {
        if (id !== null) setJob(await deleteAt<Rehearsal>(`/rehearsals/${id}`));
      }),
  };
}
