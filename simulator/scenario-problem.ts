/** What is wrong with a scenario, and where. */

/** `path`: keys from the top of the file. The message says what was expected and what was found. */
export class ScenarioProblem extends Error {
  constructor(
    readonly path: readonly (string | number)[],
    readonly expected: string,
  ) {
    super(`${path.join('.') || 'the scenario'}: ${expected}`);
    this.name = 'ScenarioProblem';
  }
}

/** All that is wrong with one file, a line each. */
export class ScenarioFileError extends Error {
  constructor(readonly lines: readonly string[]) {
    super(lines.join('\n'));
    this.name = 'ScenarioFileError';
  }
}
