/** A progress bar on a terminal; silent anywhere else. */
import type { Terminal } from './command.js';

const WIDTH = 30;
const DRAW_EVERY_MS = 100;

export interface Progress {
  /** `done` of `total` in the same unit; `text` stands behind the bar */
  show(done: number, total: number, text: string): void;
  /** clears the line */
  end(): void;
}

export function openProgress(terminal: Terminal): Progress {
  if (!terminal.isErrTty) return { show: () => undefined, end: () => undefined };
  let drawnAt = 0;
  return {
    show(done, total, text) {
      const now = performance.now();
      if (now - drawnAt < DRAW_EVERY_MS) return;
      drawnAt = now;
      const share = total > 0 ? Math.min(1, done / total) : 0;
      const filled = Math.round(share * WIDTH);
      const bar = '#'.repeat(filled) + '.'.repeat(WIDTH - filled);
      terminal.err(`\r[${bar}] ${String(Math.floor(share * 100)).padStart(3)} %  ${text}\u001b[K`);
    },
    end() {
      terminal.err('\r\u001b[K');
    },
  };
}
