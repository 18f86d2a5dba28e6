/** Rehearsals of a gateway that has none to play: the text says what comes of it. */
import type { BeginAnswer, Rehearsals } from '../../src/api/deps.js';
import type { RehearsalJob } from '../../src/rehearsal/desk.js';

const STARTED = Date.UTC(2026, 2, 2, 6, 0, 0);

/** `texts`: of the configuration file, one for each time that it is read. `bad` in the text: not valid; `gate`: refused; anything else runs until it is cancelled. */
export function makeFakeRehearsals(texts: string[] = []): Rehearsals {
  const jobs = new Map<string, RehearsalJob>();
  function begin(text: string): BeginAnswer {
    const running = [...jobs.values()].find(({ state }) => state === 'running');
    if (running !== undefined) return { ok: false, reason: 'busy', running: running.id };
    if (text.includes('bad'))
      return { ok: false, reason: 'invalid', problems: ['candidate:1:1: expected motors'] };
    if (text.includes('gate')) return { ok: false, reason: 'refused', problems: ['gate.capMs would be 1'] };
    const id = String(jobs.size + 1);
    const job: RehearsalJob = {
      ...{
        id,
        startedAt: STARTED,
        state: 'running',
        share: 0.25,
        endedAt: null,
        result: null,
        failure: null,
      },
    };
    jobs.set(id, job);
    return { ok: true, job };
  }
  return {
    begin: ({ text }) => Promise.resolve(begin(text)),
    readFile: () => Promise.resolve(texts.shift() ?? null),
    change: (text, changes) =>
      Promise.resolve(
        changes.some(({ motor }) => motor === 'nobody')
          ? { ok: false, problems: ['The file has no motor "nobody".'] }
          : { ok: true, text: `${text}\n# ${JSON.stringify(changes)}` },
      ),
    list: () => [...jobs.values()].reverse(),
    find: (id) => jobs.get(id) ?? null,
    cancel(id) {
      const job = jobs.get(id);
      if (job?.state === 'running') jobs.set(id, { ...job, state: 'cancelled', endedAt: STARTED + 1000 });
      return jobs.get(id) ?? null;
    },
  };
}
