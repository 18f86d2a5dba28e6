/** Reads a scenario from YAML. Every fault is reported at once, as file:line:column, path, what was expected. */
import { readFileSync } from 'node:fs';
import { type Document, isNode, LineCounter, parseDocument } from 'yaml';
import type * as z from 'zod';
import { resolveScenario, type Scenario } from './scenario.js';
import { ScenarioFileError, ScenarioProblem } from './scenario-problem.js';
import { ScenarioSchema } from './scenario-schema.js';

/** Throws `ScenarioFileError` when the file cannot be read or says what no scenario can say. */
export function readScenario(path: string): Scenario {
  let text: string;
  try {
    text = readFileSync(path, 'utf8');
  } catch (error) {
    const why = error instanceof Error ? error.message : String(error);
    throw new ScenarioFileError([`${path}: cannot be read (${why}); give the path of a scenario file`]);
  }
  return parseScenario(text, path);
}

/** As `readScenario`, from text. `path` only names it in messages. */
export function parseScenario(text: string, path = 'scenario'): Scenario {
  const counter = new LineCounter();
  const document = parseDocument(text, { lineCounter: counter });
  if (document.errors.length > 0) {
    throw new ScenarioFileError(
      document.errors.map((error) => `${path}: ${error.message.split('\n')[0] ?? ''}`),
    );
  }
  const place = (keys: readonly PropertyKey[]): string => findPlace(document, counter, keys);
  const parsed = ScenarioSchema.safeParse(document.toJS());
  if (!parsed.success) {
    throw new ScenarioFileError(parsed.error.issues.flatMap((issue) => tellIssue(path, place, issue)));
  }
  try {
    return resolveScenario(parsed.data);
  } catch (error) {
    if (!(error instanceof ScenarioProblem)) throw error;
    throw new ScenarioFileError([`${path}:${place(error.path)}: ${error.message}`]);
  }
}

function tellIssue(
  path: string,
  place: (keys: readonly PropertyKey[]) => string,
  issue: z.core.$ZodIssue,
): string[] {
  if (issue.code === 'unrecognized_keys') {
    return issue.keys.map((key) => {
      const keys = [...issue.path, key];
      return `${path}:${place(keys)}: ${keys.map(String).join('.')}: unknown key; config/scenarios/README.md lists the known ones`;
    });
  }
  return [
    `${path}:${place(issue.path)}: ${issue.path.map(String).join('.') || 'the scenario'}: ${issue.message}`,
  ];
}

/** `line:column` of the deepest node on the path that exists. */
function findPlace(document: Document, counter: LineCounter, keys: readonly PropertyKey[]): string {
  for (let length = keys.length; length >= 0; length--) {
    const node = length === 0 ? document.contents : document.getIn(keys.slice(0, length), true);
    if (isNode(node) && node.range) {
      const { line, col } = counter.linePos(node.range[0]);
      return `${line}:${col}`;
    }
  }
  return '1:1';
}
