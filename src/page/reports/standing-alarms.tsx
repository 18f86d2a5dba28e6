/** The alarms that stood when the report was made, most urgent first. */
import { zone } from '../data/clock.js';
import { openAlarms } from '../data/plant.js';
import { nameAlarm, namePlace, orderAlarms, PRIORITY_WORDS } from '../parts/alarm-words.js';
import { sayState } from '../parts/alarm-text.js';
import { formatExact } from '../times.js';
import { ColumnHeads } from '../parts/column-heads.js';

/** A sheet has so many; the view Alarms has all. */
const SHOWN_MOST = 60;

/** `motor` null: of the whole plant. */
export function StandingAlarms({ motor }: { motor: string | null }) {
  const all = [...(openAlarms.value?.values() ?? [])];
  const alarms = orderAlarms(all.filter((alarm) => motor === null || alarm.motor === motor));
  if (alarms.length === 0) return <p>No alarm stood when the report was made.</p>;
  return (
    <>
      <table class="report-table">
        <caption>Standing when the report was made</caption>
        <ColumnHeads titles={['Priority', 'Alarm', 'Where', 'Since', 'State']} />
        <tbody>
          {alarms.slice(0, SHOWN_MOST).map((alarm) => (
            <tr key={alarm.id}>
              <td>{PRIORITY_WORDS[alarm.priority]}</td>
              <th scope="row">{nameAlarm(alarm)}</th>
              <td>{namePlace(alarm)}</td>
              <td>{alarm.since === null ? '–' : formatExact(Date.parse(alarm.since), zone.value)}</td>
              <td>{sayState(alarm)}</td>
            </tr>
          ))}
        </tbody>
      </table>
      {alarms.length > SHOWN_MOST && <p>{alarms.length - SHOWN_MOST} more stood then.</p>}
    </>
  );
}
