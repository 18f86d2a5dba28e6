/**
 * Alarms that somebody is writing about: they stay where they were, whatever becomes of them, until the form is done with. A form
 * that went away under the hand that fills it in would lose its text, and the next touch would fall on another alarm.
 */
import { signal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { AlarmBody } from '../data/bodies.js';
import { onLive } from '../data/live-events.js';
import { isWaiting, orderAlarms } from '../parts/alarm-words.js';

export interface HeldAlarm {
  /** as it was when its form was opened: it keeps that place */
  readonly placed: AlarmBody;
  /** as the stream told it last */
  readonly latest: AlarmBody;
}

export const heldAlarms = signal<ReadonlyMap<string, HeldAlarm>>(new Map());

function setHeld(id: string, held: HeldAlarm | null): void {
  const next = new Map(heldAlarms.value);
  if (held === null) next.delete(id);
  else next.set(id, held);
  heldAlarms.value = next;
}

/** Holds it as long as the component that calls this is there and `isOpen`. */
export function useHold(alarm: AlarmBody, isOpen: boolean): void {
  const { id } = alarm;
  useEffect(() => {
    if (!isOpen) return undefined;
    setHeld(id, { placed: alarm, latest: alarm });
    const end = onLive('alarm', (latest) => {
      const held = heldAlarms.peek().get(id);
      if (latest.id === id && held !== undefined) setHeld(id, { ...held, latest });
    });
    return () => {
      end();
      setHeld(id, null);
    };
  }, [id, isOpen]);
}

export interface Cards {
  readonly waiting: readonly AlarmBody[];
  /** answered, and still there */
  readonly answered: readonly AlarmBody[];
}

/** `open`: every alarm that is not normal, as it stands. `isListed`: whether such an alarm has a card at all. */
export function placeCards(
  open: ReadonlyMap<string, AlarmBody>,
  held: ReadonlyMap<string, HeldAlarm>,
  isListed: (alarm: AlarmBody) => boolean,
): Cards {
  const placed = new Map(open);
  for (const [id, each] of held) placed.set(id, each.placed);
  const asItStands = ({ id }: AlarmBody): AlarmBody => open.get(id) ?? endOf(held.get(id)!.latest);
  const listed = orderAlarms([...placed.values()]).filter(isListed);
  return {
    waiting: listed.filter(isWaiting).map(asItStands),
    answered: listed.filter((alarm) => !isWaiting(alarm)).map(asItStands),
  };
}

/** What is no longer among the open ones is normal, also where the stream did not tell it. */
function endOf(latest: AlarmBody): AlarmBody {
  return latest.state === 'normal' ? latest : { ...latest, state: 'normal', active: false };
}
