/** Standard output and standard error as commands see them. */
import { once } from 'node:events';
import type { Terminal } from './command.js';

/** The real terminal. Results go to stdout, everything said about them to stderr, so that pipes stay clean. */
export function openTerminal(): Terminal {
  let failed: Error | null = null;
  process.stdout.on('error', (error: Error) => {
    failed = error;
  });
  return {
    async out(text) {
      if (failed !== null) throw failed;
      if (!process.stdout.write(text)) await once(process.stdout, 'drain');
    },
    err(text) {
      process.stderr.write(text);
    },
    isErrTty: process.stderr.isTTY,
  };
}
