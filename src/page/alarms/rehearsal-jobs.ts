/** Rehearsals of this gateway: begun, watched until they end, cancelled. */
import { useEffect, useState } from 'preact/hooks';
import { deleteAt, fetchBody, postBody, toProblem, type ApiProblem } from '../data/api-client.js';
import type { Rehearsal, Rehearsals } from '../data/bodies.js';

const WATCH_MS = 700;

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

/** The newest rehearsal, with its result once there is one. */
export function useRehearsal(): RehearsalState {
  const [job, setJob] = useState<Rehearsal | null>(null);
  const [problem, setProblem] = useState<ApiProblem | null>(null);
  const [id, setId] = useState<string | null>(null);
  const guard = async (act: () => Promise<void>): Promise<void> => {
    try {
      setProblem(null);
      await act();
    } catch (error) {
      setProblem(toProblem(error));
    }
  };
  useEffect(() => {
    void guard(async () => setId((await fetchBody<Rehearsals>('/rehearsals')).rehearsals[0]?.id ?? null));
  }, []);
  useEffect(() => {
    if (id === null) return;
    const abort = new AbortController();
    let timer: ReturnType<typeof setTimeout> | null = null;
    const look = (): void => {
      fetchBody<Rehearsal>(`/rehearsals/${id}`, {}, abort.signal).then(
        (found) => {
          setJob(found);
          if (found.state === 'running') timer = setTimeout(look, WATCH_MS);
        },
        (error: unknown) => abort.signal.aborted || setProblem(toProblem(error)),
      );
    };
    look();
    return () => {
      abort.abort();
      if (timer !== null) clearTimeout(timer);
    };
  }, [id]);
  return {
    job,
    problem,
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
