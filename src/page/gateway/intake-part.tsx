/** What comes in, how fast, and what was turned away. */
import type { GatewayBody } from '../data/station-bodies.js';
import { FactList } from '../parts/fact-list.js';
import { Moment } from '../parts/moment.js';
import { formatCount, formatSpan } from '../times.js';
import { formatBytes, formatPerSecond } from './byte-words.js';
import { PartFrame } from './part-frame.js';

/** A commit that takes longer than this is worth a look. Our choice. */
const WAIT_LONG_MS = 2_000;

function judge({
  clients,
  commit_failures: failures,
  commit_wait_ms: waitMs,
  per_s_1m: rate,
}: GatewayBody['intake']) {
  if (failures > 0) return ['look', `${failures} transactions were rolled back since the start`] as const;
  if (waitMs > WAIT_LONG_MS)
    return ['look', `a batch has waited ${formatSpan(waitMs)} for its commit`] as const;
  if (clients === 0) return ['look', 'no MQTT client is connected'] as const;
  const who = clients === 1 ? 'one client' : `${formatCount(clients)} clients`;
  return ['good', rate === null ? `${who} connected` : `${who}, ${formatPerSecond(rate)}`] as const;
}

export function IntakePart({ intake }: { intake: GatewayBody['intake'] }) {
  const [kind, says] = judge(intake);
  return (
    <PartFrame name="intake" title="Intake" kind={kind} says={says}>
      <FactList
        facts={[
          ['Publishes, last minute', formatPerSecond(intake.per_s_1m)],
          ['Publishes, last 10 min', formatPerSecond(intake.per_s_10m)],
          ['Received', formatCount(intake.received)],
          ['Acknowledged', formatCount(intake.acknowledged)],
          [
            'Wait for their commit',
            `${formatBytes(intake.pending_bytes)}${intake.commit_wait_ms > 0 ? `, ${Math.round(intake.commit_wait_ms)} ms` : ''}`,
          ],
          [
            'Last commit',
            intake.last_commit_at === null ? 'none yet' : <Moment at={intake.last_commit_at} />,
          ],
          [
            'Could not be used',
            intake.refused === 0 ? '0' : <a href="/wiring">{formatCount(intake.refused)}: see the wiring</a>,
          ],
          [
            'Denied',
            intake.denied === 0 ? '0' : <a href="/wiring">{formatCount(intake.denied)}: see the wiring</a>,
          ],
          ['Connections ended', formatCount(intake.cut)],
        ]}
      />
      <p class="quiet">Counted since the start.</p>
    </PartFrame>
  );
}
