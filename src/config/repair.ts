/**
 * Takes faulty parts out of a file's value, so that what is left can be checked on and all faults come at once.
 * Nothing that was repaired ever runs: the file is refused anyway.
 */
import type { Path } from './problem.js';

/** What is wrong: a key that nobody knows, or (`unknownKey` null) a value. */
export interface Faulty {
  readonly path: Path;
  readonly unknownKey: string | null;
  readonly suggestion: string | null;
}

type Container = Record<string | number, unknown>;

export function isContainer(value: unknown): value is Container {
  return typeof value === 'object' && value !== null;
}

/** Undefined where there is nothing. */
export function valueAt(root: unknown, path: Path): unknown {
  const enter = (value: unknown, part: string | number): unknown =>
    isContainer(value) && Object.hasOwn(value, part) ? value[part] : undefined;
  return path.reduce<unknown>(enter, root);
}

/** Changes `root`. Returns the parts that now hold something that the file does not say. */
export function repairFaults(root: Container, faults: readonly Faulty[]): Path[] {
  // two complaints about one part must not look like one about what holds it
  const once = new Map(faults.map((fault) => [JSON.stringify(fault.path), fault]));
  const replaced = [...once.values()].flatMap((fault) => repair(root, fault));
  if (!Object.hasOwn(root, 'site')) root.site = 'unnamed';
  if (!Object.hasOwn(root, 'motors')) root.motors = {};
  return replaced;
}

function repair(root: Container, fault: Faulty): Path[] {
  const { path, unknownKey, suggestion } = fault;
  if (unknownKey === null) return takeOut(root, path);
  const parent = valueAt(root, path.slice(0, -1));
  if (!isContainer(parent)) return [];
  if (suggestion !== null && !Object.hasOwn(parent, suggestion)) parent[suggestion] = parent[unknownKey];
  delete parent[unknownKey];
  return [];
}

/** A part that is missing though it must be there takes what holds it along. */
function takeOut(root: Container, path: Path): Path[] {
  const last = path.at(-1);
  const above = path.slice(0, -1);
  const parent = valueAt(root, above);
  // an earlier fault took the surroundings out already
  if (last === undefined || !isContainer(parent)) return [];
  const standIn = findStandIn(path);
  if (standIn !== null) {
    parent[last] = standIn;
    return [path];
  }
  // a list without its faulty item would be another list, so it goes as a whole
  if (Array.isArray(parent) || !Object.hasOwn(parent, last)) return takeOut(root, above);
  delete parent[last];
  return [];
}

/** Others refer to motors, templates and users, so something must stay in their place. */
function findStandIn(path: Path): unknown {
  const [top, second] = path;
  if (top === 'notify') return standInForNotify(path);
  if (path.length === 2 && (top === 'motors' || top === 'templates')) return {};
  if (top !== 'mqtt' || second !== 'users') return null;
  const user = { name: `unnamed-${path[2] ?? 0}`, passwordEnv: 'UNNAMED', role: 'reader' };
  if (path.length === 2) return [user];
  return path.length === 3 ? user : null;
}

function standInForNotify(path: Path): unknown {
  const [, second] = path;
  const isWhole = path.length === (second === 'mail' ? 2 : 3);
  if (!isWhole) return null;
  if (second === 'mail') return { host: 'unnamed.invalid', from: 'unnamed@unnamed.invalid' };
  if (second === 'webhooks') return { url: 'https://unnamed.invalid/', secretEnv: 'UNNAMED' };
  return second === 'routes' ? {} : null;
}
