/** One link in the table of the plant: its sign, and when it held last. */
import { now, zone } from '../data/clock.js';
import type { ChainLink } from '../data/station-bodies.js';
import { VerdictSign } from '../parts/verdict-sign.js';
import { formatExact, formatSpan } from '../times.js';
import { LINK_VERDICTS } from './chain-words.js';

export function ChainCell({ link }: { link: ChainLink }) {
  const [kind, word] = LINK_VERDICTS[link.state];
  const at = link.at === null ? null : Date.parse(link.at);
  return (
    <td class={`wiring-chain-cell is-${link.state}`} title={link.says}>
      <VerdictSign kind={kind} word={word} onlyHeard={link.state === 'ok'} />
      {at !== null && (
        <time dateTime={link.at!} title={formatExact(at, zone.value)}>
          {formatSpan(now.value - at)}
        </time>
      )}
    </td>
  );
}
