/** What a receiver and the ledger of its sink say, against the store. */
import Database from 'better-sqlite3';
import { join } from 'node:path';
import { compareRows, nameRow, readStored } from '../crash/forward-verdict.js';
import type { ForwardingRig } from './forwarding-rig.js';
import type { NetworkReceiver } from './network-receiver.js';

/** Rollups and transients of this store's sensors and motors: receivers serve one store after the other. */
export async function readOwnRows(rig: ForwardingRig, receiver: NetworkReceiver): Promise<Set<string>> {
  const rows = (await receiver.held()).filter(({ stream, key }) => {
    if (stream !== 'rollups' && stream !== 'transients') return false;
    return rig.motors.some((motor) => key.startsWith(`${motor}/`) || key.startsWith(`${motor}|`));
  });
  return new Set(rows.map(({ stream, key, revision }) => nameRow(stream, key, revision)));
}

/** Rollups and transients of the store. Numbers of entries begin anew with each store, so the journal is not compared. */
export function readStoredRows(rig: ForwardingRig): Set<string> {
  return new Set([...readStored(rig.dataDir)].filter((row) => !row.startsWith('journal')));
}

/** What is wrong: rows that are missing or too many, and accounts that are not closed. */
async function findDifferences(rig: ForwardingRig, receiver: NetworkReceiver): Promise<string[]> {
  const { kind } = receiver;
  const findings = compareRows(kind, readStoredRows(rig), await readOwnRows(rig, receiver));
  const { isBalanced, lines } = await rig.ledger(kind);
  if (!isBalanced) findings.push(`${kind}: the ledger does not add up`);
  for (const line of lines)
    if (line.produced !== line.delivered + line.superseded) findings.push(`${kind}: ${JSON.stringify(line)}`);
  return findings;
}

/** The same of all of them. */
export async function findAllDifferences(
  rig: ForwardingRig,
  receivers: readonly NetworkReceiver[],
): Promise<string[]> {
  return (await Promise.all(receivers.map((receiver) => findDifferences(rig, receiver)))).flat();
}

/** Why records of a sink are in quarantine, in the order in which they came there. */
export function readQuarantine(rig: ForwardingRig, sink: string): { key: string; reason: string }[] {
  const db = new Database(join(rig.dataDir, 'forward.db'), { readonly: true });
  try {
    return db.prepare('SELECT key, reason FROM quarantine WHERE sink = ? ORDER BY id').all(sink) as {
      key: string;
      reason: string;
    }[];
  } finally {
    db.close();
  }
}
