/** Reads the configuration file as it is now and says how it differs from what is in force. */
import { listChanges, type ConfigChange } from '../../config/change.js';
import type { Config } from '../../config/config.js';
import { loadConfig } from '../../config/parse.js';
import { formatProblem } from '../../config/problem.js';
import { hashRevision } from '../../config/revision.js';

/** `revision` null: the file is not valid, and `problems` say why. */
export interface FileComparison {
  readonly revision: string | null;
  readonly changes: readonly ConfigChange[];
  readonly problems: readonly string[];
}

export interface InForceConfigs {
  readonly inForce: Config;
  readonly started: Config;
}

const PROBLEMS_MOST = 50;

/** `started`: the configuration of the start. */
export function compareFile({ inForce, started }: InForceConfigs): FileComparison {
  const loaded = loadConfig(inForce.file);
  if (!loaded.ok)
    return {
      revision: null,
      changes: [],
      problems: loaded.problems.slice(0, PROBLEMS_MOST).map(formatProblem),
    };
  return {
    revision: hashRevision(loaded.config),
    changes: listChanges(inForce, loaded.config, started),
    problems: [],
  };
}
