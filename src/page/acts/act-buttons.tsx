/** The first gesture: the acts that apply to an alarm, each opening its form below. */
import { useRef, useState } from 'preact/hooks';
import { HALT_KINDS } from '../../../shared/alarm-terms.js';
import type { AlarmBody } from '../data/bodies.js';
import { mayAct } from '../data/session.js';
import { nameAlarm, namePlace } from '../parts/alarm-words.js';
import { tellHeard } from '../parts/heard-news.js';
import { ActForm } from './act-form.js';
import { ACT_WORDS, actsFor, type Act } from './alarm-acts.js';
import { useHold } from './held-alarms.js';
import './acts.css';

/** `most`: how many acts are offered here; the others are found with the alarm itself. */
export function ActButtons({ alarm, most }: { alarm: AlarmBody; most: number }) {
  const [open, setOpen] = useState<Act | null>(null);
  const row = useRef<HTMLDivElement>(null);
  const note = useRef('');
  const [said, setSaid] = useState('');
  useHold(alarm, open !== null);
  if (HALT_KINDS.includes(alarm.kind)) return <p class="quiet">It ends by itself once its cause is gone.</p>;
  if (!mayAct()) return null;
  const acts = actsFor(alarm).slice(0, most);
  const about = `${nameAlarm(alarm)}, ${namePlace(alarm)}`;
  const end = (isDone: boolean): void => {
    const done = isDone && open !== null ? `${ACT_WORDS[open].name}: done.` : '';
    if (done !== '') tellHeard(`${about}. ${done}`);
    note.current = '';
    setSaid(done);
    setOpen(null);
    row.current?.querySelector('button')?.focus();
  };
  return (
    <div class="acts">
      <div class="act-row" ref={row}>
        {acts.map((act) => (
          <button
            key={act}
            type="button"
            aria-expanded={open === act}
            aria-label={`${ACT_WORDS[act].name}… ${about}`}
            onClick={() => {
              setSaid('');
              setOpen(open === act ? null : act);
            }}
          >
            {ACT_WORDS[act].name}…
          </button>
        ))}
      </div>
      {open !== null && <ActForm key={open} {...{ act: open, alarm, note, onEnd: end }} />}
      <p class="act-said">{said}</p>
    </div>
  );
}
