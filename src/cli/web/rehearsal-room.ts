/** Rehearsals of a running gateway: the text of a candidate in, checked as `check` does, played beside what runs. */
import { readFile } from 'node:fs/promises';
import type { BeginAnswer, Rehearsals } from '../../api/deps.js';
import type { Plan } from '../../core/plan.js';
import { RehearsalDesk } from '../../rehearsal/desk.js';

/** `file`: of the configuration. `running`: the plan in force; a reload changes it. `close` ends the one that runs. */
export function openRehearsals(
  dataDir: string,
  file: string,
  running: () => Plan,
  now: () => number,
): Rehearsals & { close(): void } {
  const desk = new RehearsalDesk(dataDir, now);
  return {
    async begin({ text, from, to }): Promise<BeginAnswer> {
      const busy = desk.running();
      if (busy !== null) return { ok: false, reason: 'busy', running: busy.id };
      const { judgeText } = await import('./candidate-text.js');
      const plan = running();
      const judged = judgeText(text, plan);
      if (!judged.ok) return judged;
      const job = desk.begin({ running: plan, candidate: judged.plan, from, to });
      // another one may have begun meanwhile
      return job !== null
        ? { ok: true, job }
        : { ok: false, reason: 'busy', running: desk.running()?.id ?? '' };
    },
    readFile: () => readFile(file, 'utf8').catch(() => null),
    async change(text, changes) {
      const { changeText } = await import('./candidate-text.js');
      return changeText(text, changes, running());
    },
    list: () => desk.list(),
    find: (id) => desk.find(id),
    cancel: (id) => desk.cancel(id),
    close: () => desk.close(),
  };
}
