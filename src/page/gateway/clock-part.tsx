/** Whether the gateway's clock can be trusted; and where it cannot, the way on. */
import type { GatewayBody } from '../data/station-bodies.js';
import { mayChange } from '../data/session.js';
import { FactList } from '../parts/fact-list.js';
import { formatExact } from '../times.js';
import { ClockForm } from './clock-form.js';
import { PartFrame } from './part-frame.js';

type Clock = GatewayBody['clock'];

const WAY_ON =
  'Set the clock of the machine: the gateway notices by itself. Nothing is acknowledged meanwhile, so devices keep what they count.';

function judge({ halted, trusted }: Clock) {
  if (halted) return 'wrong';
  return trusted ? 'good' : 'look';
}

/** `onChange`: the clock was let go on. */
export function ClockPart({ clock, zone, onChange }: { clock: Clock; zone: string; onChange: () => void }) {
  const exact = (at: string, where: string): string => formatExact(Date.parse(at), where);
  const offsetS = clock.offset_ms / 1_000;
  return (
    <PartFrame name="clock" title="Clock" kind={judge(clock)} says={clock.says}>
      {clock.halted && <p class="todo">{WAY_ON}</p>}
      {clock.halted && mayChange() && <ClockForm onChange={onChange} />}
      <FactList
        facts={[
          ['When it was asked', exact(clock.now, zone)],
          ['The same in UTC', exact(clock.now, 'UTC')],
          ['Zone of the site', zone],
          ['Set ahead of the machine', clock.offset_ms === 0 ? 'no' : `${offsetS.toFixed(1)} s`],
        ]}
      />
    </PartFrame>
  );
}
