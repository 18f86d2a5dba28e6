/** Whether the gateway's clock can be trusted. */
import { mayChange } from '../data/session.js';
import type { GatewayBody } from '../data/station-bodies.js';
import { FactList } from '../parts/fact-list.js';
import { formatExact } from '../times.js';
import { PartFrame } from './part-frame.js';
import { TrustForm } from './trust-form.js';

export function ClockPart({ clock, zone }: { clock: GatewayBody['clock']; zone: string }) {
  const offsetS = clock.offset_ms / 1_000;
  return (
    <PartFrame name="clock" title="Clock" kind={clock.trusted ? 'good' : 'wrong'} says={clock.says}>
      <FactList
        facts={[
          ['When it was asked', formatExact(Date.parse(clock.now), zone)],
          ['The same in UTC', formatExact(Date.parse(clock.now), 'UTC')],
          ['Zone of the site', zone],
          ['Set ahead of the machine', clock.offset_ms === 0 ? 'no' : `${offsetS.toFixed(1)} s`],
        ]}
      />
      {clock.in_doubt && mayChange() && <TrustForm />}
    </PartFrame>
  );
}
