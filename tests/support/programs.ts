/** Programs of the distribution that some tests talk to. Where one is missing its tests say so in one line. */
import { spawnSync } from 'node:child_process';

/** Whether a program can be started with these arguments and ends well. */
export function canRun(program: string, args: readonly string[]): boolean {
  return spawnSync(program, args, { stdio: 'ignore', timeout: 20_000 }).status === 0;
}

/** `isThere`, after one line about what is left out when it is not. The checks of a push install all of them and fail without. */
export function tellMissing(isThere: boolean, what: string, install: string): boolean {
  if (!isThere)
    console.warn(`left out: ${what}, because ${install} is not installed (apt-get install ${install})`);
  return isThere;
}
