/** Nothing may be written from outside: the package makes variables that anybody may write unless it is told otherwise. */
import type { BaseNode, UAVariable } from 'node-opcua-address-space';
import type { OpcuaParts } from './opcua-package.js';

/** Takes the right to write from a node and from everything below it, values and their history alike. */
export function sealBelow({ common }: OpcuaParts, node: BaseNode): void {
  const { AccessLevelFlag, NodeClass } = common;
  const writing = AccessLevelFlag.CurrentWrite | AccessLevelFlag.HistoryWrite;
  if (node.nodeClass === NodeClass.Variable) {
    const variable = node as UAVariable;
    variable.accessLevel &= ~writing;
    variable.userAccessLevel = variable.accessLevel & ~writing;
  }
  const below = node as BaseNode & { getAggregates(): BaseNode[] };
  for (const child of below.getAggregates()) sealBelow({ common } as OpcuaParts, child);
}
