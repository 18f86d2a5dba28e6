/** The alarm over HTTP: waits until it is raised, acknowledges it, and reads it again after crashes. */
import { sleep } from '../support/child.js';
import { ALARM_ID } from './plant.js';

/** What must be the same after a crash. */
export interface AlarmMemory {
  readonly id: string;
  readonly state: string;
  readonly since: string | null;
  readonly acknowledgedBy: string;
  /** when somebody was told: another time would be another telling */
  readonly annunciatedAt: string | null;
  readonly note: string;
}

async function getJson(url: string): Promise<unknown> {
  const answer = await fetch(url, { signal: AbortSignal.timeout(5_000) });
  if (!answer.ok) throw new Error(`${url} answered ${answer.status}: ${await answer.text()}`);
  return answer.json();
}

/** null: the gateway does not know the alarm. */
export async function readAlarm(http: string): Promise<AlarmMemory | null> {
  const body = (await getJson(`${http}/api/v1/alarms`)) as { alarms: Record<string, string>[] };
  const found = body.alarms.find((alarm) => alarm['id'] === ALARM_ID);
  if (found === undefined) return null;
  return {
    id: ALARM_ID,
    state: found['state'] ?? '',
    since: found['since'] ?? null,
    acknowledgedBy: found['acknowledged_by'] ?? '',
    annunciatedAt: found['annunciated_at'] ?? null,
    note: found['note'] ?? '',
  };
}

/** Waits for a state; throws with what it is instead. */
export async function waitForAlarm(http: string, state: string, patienceMs: number): Promise<AlarmMemory> {
  const end = Date.now() + patienceMs;
  for (;;) {
    const alarm = await readAlarm(http);
    if (alarm?.state === state) return alarm;
    if (Date.now() > end)
      throw new Error(`${ALARM_ID} is ${alarm?.state ?? 'not there'} instead of ${state}`);
    await sleep(100);
  }
}

export async function acknowledgeAlarm(http: string, who: string, note: string): Promise<void> {
  const answer = await fetch(`${http}/api/v1/alarms/${ALARM_ID}/acknowledge`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ who, note }),
  });
  if (!answer.ok) throw new Error(`acknowledge answered ${answer.status}: ${await answer.text()}`);
}
