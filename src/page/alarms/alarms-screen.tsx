/** The view "Alarms": the list, one alarm with its evidence, what happened, how the alarms do, and rehearsals. */
import type { ScreenProps } from '../view.js';
import { AlarmDetail } from './alarm-detail.js';
import { AlarmList } from './alarm-list.js';
import { JournalList } from './journal-list.js';
import { PerformancePart } from './performance-part.js';
import { RehearsalPart } from './rehearsal-part.js';
import './alarms.css';

const PARTS = [
  ['', 'List'],
  ['journal', 'What happened'],
  ['performance', 'How the alarms do'],
  ['rehearsal', 'Rehearse setpoints'],
] as const;

function PartLinks({ current }: { current: string }) {
  return (
    <nav class="part-links" aria-label="Parts of the view">
      {PARTS.map(([part, name]) => (
        <a
          key={part}
          href={part === '' ? '/alarms' : `/alarms/${part}`}
          aria-current={part === current ? 'page' : undefined}
        >
          {name}
        </a>
      ))}
    </nav>
  );
}

function Part({ part, query }: { part: string; query: URLSearchParams }) {
  switch (part) {
    case '':
      return <AlarmList query={query} />;
    case 'journal':
      return <JournalList query={query} />;
    case 'performance':
      return <PerformancePart query={query} />;
    case 'rehearsal':
      return <RehearsalPart />;
    default:
      // an id has a dot between motor and alarm, the parts have none
      return <AlarmDetail key={part} id={part} />;
  }
}

export function AlarmsScreen({ rest, query }: ScreenProps) {
  const part = rest[0] ?? '';
  return (
    <>
      <PartLinks current={part} />
      <Part part={part} query={query} />
    </>
  );
}
