/** Whether every counted pulse is in exactly one class. */
import type { GatewayBody } from '../data/station-bodies.js';
import { FactList } from '../parts/fact-list.js';
import { Moment } from '../parts/moment.js';
import type { VerdictKind } from '../parts/verdict-sign.js';
import { formatCount } from '../times.js';
import { PartFrame } from './part-frame.js';

const KINDS: Readonly<Record<GatewayBody['ledger']['state'], VerdictKind>> = {
  balanced: 'good',
  unbalanced: 'wrong',
  'not-proved': 'unknown',
};

export function LedgerPart({ ledger }: { ledger: GatewayBody['ledger'] }) {
  return (
    <PartFrame name="ledger" title="Ledger" kind={KINDS[ledger.state]} says={ledger.says}>
      <FactList
        facts={[
          ['Counted', `${formatCount(ledger.counted)} pulses at ${formatCount(ledger.sensors)} sensors`],
          ['In one of the classes', formatCount(ledger.classified)],
          ['Not classified yet', formatCount(ledger.pending)],
          ['Stretches nobody can know', formatCount(ledger.unknown_stretches)],
          ['Proved from the store', ledger.proved_at === null ? 'not yet' : <Moment at={ledger.proved_at} />],
        ]}
      />
      {ledger.unbalanced.length > 0 && <p>Not balanced: {ledger.unbalanced.join(', ')}.</p>}
    </PartFrame>
  );
}
