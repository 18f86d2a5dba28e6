/** How an alarm stands, and since when its condition stands or is gone: the time is never that of an act. */
import type { AlarmBody } from '../data/bodies.js';
import { isHidden } from './alarm-words.js';
import { sayState } from './alarm-text.js';
import { Moment } from './moment.js';

/** What leads from the state to the time of the last change of the condition. */
function leadTo(alarm: AlarmBody): string {
  if (isHidden(alarm)) return alarm.active ? '; there since ' : '; normal since ';
  if (alarm.active || alarm.state === 'normal') return ' since ';
  return ' '; // the state ends in "returned to normal"
}

export function StateSince({ alarm }: { alarm: AlarmBody }) {
  return (
    <>
      {sayState(alarm)}
      {alarm.since !== null && (
        <>
          {leadTo(alarm)}
          <Moment at={alarm.since} />
        </>
      )}
    </>
  );
}
