/** What the file would change, a whole motor or receiver that comes or goes in one line. Pure. */
import type { GatewayBody } from '../data/station-bodies.js';

export type ChangeRow = GatewayBody['configuration']['changes'][number];

/** What is configured by name, each with settings of its own. */
const NAMED = /^(?:motors|sinks|dutyGroups|mqtt\.users|http\.users)\.[^.]+/;

function ownerOf({ path }: ChangeRow): string {
  return NAMED.exec(path)?.[0] ?? path;
}

/** In the order of their first settings. */
export function foldChanges(changes: readonly ChangeRow[]): ChangeRow[] {
  const groups = new Map<string, ChangeRow[]>();
  for (const change of changes) {
    const owner = ownerOf(change);
    const group = groups.get(owner) ?? [];
    group.push(change);
    groups.set(owner, group);
  }
  return [...groups].flatMap(([owner, group]) => foldGroup(owner, group));
}

function foldGroup(owner: string, group: ChangeRow[]): ChangeRow[] {
  const isWhole = group.some(({ path }) => path === `${owner}.name` || path === `${owner}.key`);
  const settings = `${group.length} settings`;
  const needsRestart = group.some(({ needs_restart: isLate }) => isLate);
  if (isWhole && group.every(({ in_force: inForce }) => inForce === null))
    return [{ path: owner, in_force: null, file: settings, needs_restart: needsRestart }];
  if (isWhole && group.every(({ file }) => file === null))
    return [{ path: owner, in_force: settings, file: null, needs_restart: needsRestart }];
  return group;
}
