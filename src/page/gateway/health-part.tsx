/** Whether messages are taken in and stored, and what the gateway holds against itself. */
import type { GatewayBody } from '../data/station-bodies.js';
import { FactList } from '../parts/fact-list.js';
import { Moment } from '../parts/moment.js';
import { formatCount, formatSpan } from '../times.js';
import { PartFrame } from './part-frame.js';

export function HealthPart({ body }: { body: GatewayBody }) {
  const { health, version, started_at: startedAt, uptime_ms: upMs, live_readers: readers } = body;
  const { ready, reasons, own_alarms: alarms, flood_since: flood } = health;
  return (
    <PartFrame
      name="health"
      title="Health"
      kind={ready ? 'good' : 'wrong'}
      says={ready ? 'ready: messages are taken in and stored' : `not ready: ${reasons.join('; ')}`}
    >
      <FactList
        facts={[
          ['Version', version],
          [
            'Runs',
            <>
              {formatSpan(upMs)}, since <Moment at={startedAt} />
            </>,
          ],
          ['Alarms of its own', alarms.length === 0 ? 'none' : `${alarms.length}`],
          [
            'Flood of alarms',
            flood === null ? (
              'none'
            ) : (
              <>
                since <Moment at={flood} />
              </>
            ),
          ],
          ['Follow the live stream', formatCount(readers)],
        ]}
      />
      {alarms.length > 0 && (
        <ul class="gateway-faults">
          {alarms.map(({ id, says }) => (
            <li key={id}>
              <a class="target-link" href={`/alarms/${encodeURIComponent(id)}`}>
                {id}
              </a>{' '}
              {says}
            </li>
          ))}
        </ul>
      )}
    </PartFrame>
  );
}
