/**
 * The priority of an alarm by shape, word and colour: one, two or three chevrons on a flag; filled while it waits for an
 * answer, outlined when somebody has it. Any two of the three marks are lost on a grey print, and it can still be read.
 */
import type { AlarmPriority } from '../../../shared/alarm-terms.js';
import { PRIORITY_WORDS } from './alarm-words.js';

const CHEVRONS: Readonly<Record<AlarmPriority, number>> = { low: 1, medium: 2, high: 3 };

export function PriorityMark({ priority, isFilled }: { priority: AlarmPriority; isFilled: boolean }) {
  const rows = Array.from({ length: CHEVRONS[priority] }, (_, row) => row);
  const top = 12 - 3.5 * (rows.length - 1) + 3;
  return (
    <span class={`priority priority-${priority} ${isFilled ? 'is-filled' : ''}`}>
      <svg viewBox="0 0 24 24" width="24" height="24" aria-hidden="true">
        {rows.map((row) => (
          <path key={row} d={`M5 ${top + 7 * row} 12 ${top - 6 + 7 * row} 19 ${top + 7 * row}`} />
        ))}
      </svg>
      <span class="priority-word">{PRIORITY_WORDS[priority]}</span>
    </span>
  );
}
