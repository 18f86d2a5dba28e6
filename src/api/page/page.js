/**
 * The live page: asks for motors and alarms, and asks again when the live stream says that something changed.
 * Values keep the time they are of; what is old looks old. No library, no other host.
 */
const REFRESH_LEAST_MS = 2000;
const REFRESH_MOST_MS = 15000;
const CLOCK_EVERY_MS = 1000;
const OLD_AFTER_MS = 60000;

/** Shape and word for each alarm state; colour is added by the style sheet and never stands alone. */
const ALARM_STATES = {
  unacknowledged: ['▲', 'unacknowledged'],
  acknowledged: ['△', 'acknowledged, still active'],
  'returned-unacknowledged': ['▽', 'returned to normal, not acknowledged'],
  'latched-unacknowledged': ['▲', 'latched, not acknowledged'],
  'latched-acknowledged': ['△', 'latched, acknowledged'],
  shelved: ['◇', 'shelved'],
  'suppressed-by-design': ['◇', 'suppressed by design'],
  'out-of-service': ['◇', 'out of service'],
  normal: ['○', 'normal'],
};
const RUN_STATES = { running: '▶', starting: '◢', stopping: '◣', stopped: '■', fault: '✖', unknown: '?' };
const HELD = {
  standing: 'Held: the motor stands.',
  'run-state-unknown': 'Held: nobody reports whether the motor runs.',
  'no-readings': 'Held: its sensor sends nothing.',
};
const HIDDEN = new Set(['shelved', 'suppressed-by-design', 'out-of-service']);
const ACKNOWLEDGEABLE = new Set(['unacknowledged', 'returned-unacknowledged', 'latched-unacknowledged']);

const find = (id) => document.getElementById(id);
let zone = 'UTC';
let gatewayAheadMs = 0;
let heardAt = 0;
let refreshTimer = null;
let refreshedAt = 0;

function now() {
  return Date.now() + gatewayAheadMs;
}

function showTime(text) {
  if (text === null || text === undefined) return 'never';
  const time = new Date(text);
  const clock = new Intl.DateTimeFormat('en-GB', { timeZone: zone, timeStyle: 'medium' }).format(time);
  const day = showDay(time);
  return day === showDay(new Date(now())) ? clock : `${day}, ${clock}`;
}

function showDay(time) {
  return new Intl.DateTimeFormat('en-GB', { timeZone: zone, day: 'numeric', month: 'short' }).format(time);
}

function showSpan(ms) {
  const seconds = Math.max(0, Math.round(ms / 1000));
  if (seconds < 120) return `${seconds} s`;
  if (seconds < 7200) return `${Math.round(seconds / 60)} min`;
  if (seconds < 172_800) return `${Math.round(seconds / 3600)} h`;
  return `${Math.round(seconds / 86_400)} days`;
}

function showNumber(value) {
  if (value === null || value === undefined) return '–';
  return value >= 100 ? value.toFixed(0) : value >= 10 ? value.toFixed(1) : value.toFixed(2);
}

function cell(row, text, className) {
  const td = document.createElement('td');
  td.textContent = text;
  if (className) td.className = className;
  row.append(td);
  return td;
}

function age(row, time) {
  const td = cell(row, '', 'age');
  if (time !== null) td.dataset.time = time;
  td.textContent = time === null ? 'never' : '';
  return td;
}

function runStateText(motor) {
  const known = motor.has_run_state ? motor.run_state : 'running';
  const mark = RUN_STATES[known] ?? '?';
  const since = motor.since === null ? '' : `, since ${showTime(motor.since)}`;
  if (!motor.has_run_state) return `${mark} no signal, taken as running`;
  return `${mark} ${known}${known === 'stopped' && motor.modulating ? ' (but modulating)' : ''}${since}`;
}

function transientText(transient) {
  if (transient === null) return '–';
  return `${transient.kind} ${showTime(transient.from)}: ${transient.pulses} pulses`;
}

function sensorRow(motor, sensor, isFirst) {
  const row = document.createElement('tr');
  if (isFirst) {
    const th = document.createElement('th');
    th.scope = 'rowgroup';
    th.rowSpan = Math.max(1, motor.sensors.length);
    th.textContent = motor.motor;
    row.append(th);
    const state = cell(row, runStateText(motor));
    state.rowSpan = th.rowSpan;
    if (motor.run_state === 'fault' || motor.run_state === 'unknown') state.classList.add('old');
  }
  const rate = sensor.rate;
  const doubtful = rate !== null && rate.quality !== 'good';
  cell(row, sensor.position);
  cell(row, rate === null ? '–' : showNumber(rate.rate_per_min), 'number');
  cell(
    row,
    rate === null || rate.lower_per_min === null
      ? 'no running time yet'
      : `${showNumber(rate.lower_per_min)} to ${showNumber(rate.upper_per_min)}${doubtful ? ` (${rate.quality})` : ''}`,
    'number',
  );
  cell(row, rate === null ? '–' : showSpan(rate.exposure_ms), 'number quiet');
  age(row, sensor.last_reading_at);
  if (isFirst) {
    const last = cell(row, transientText(motor.last_transient), 'quiet');
    last.rowSpan = Math.max(1, motor.sensors.length);
  }
  return row;
}

function drawMotors(body) {
  zone = body.zone;
  gatewayAheadMs = new Date(body.now).getTime() - Date.now();
  find('site').textContent = body.site;
  const rows = [];
  for (const motor of body.motors) {
    motor.sensors.forEach((sensor, index) => rows.push(sensorRow(motor, sensor, index === 0)));
  }
  find('motors').replaceChildren(...rows);
}

function newAlarmCard(alarm) {
  const card = find('alarm-card').content.firstElementChild.cloneNode(true);
  card.dataset.id = alarm.id;
  card.querySelector('form').addEventListener('submit', (event) => {
    event.preventDefault();
    void acknowledge(alarm.id, event.target);
  });
  return card;
}

/** What the configuration says of it. */
function sayAdvice(alarm) {
  const parts = [
    ['Do', alarm.action],
    ['If nobody acts', alarm.consequence],
    ['Why it is set so', alarm.rationale],
  ];
  return parts.filter(([, text]) => text !== '').map(([name, text]) => `${name}: ${text}`);
}

/** Who did what about it; the note is that of the last act. */
function sayActs(alarm) {
  const acts = [];
  if (alarm.grouped_under !== null) acts.push(`${alarm.grouped_under} stands for it.`);
  if (alarm.held_by !== null) acts.push(HELD[alarm.held_by] ?? `Held: ${alarm.held_by}.`);
  if (alarm.acknowledged_by !== '') acts.push(`Acknowledged by ${alarm.acknowledged_by}.`);
  if (alarm.confirmed_by !== '') acts.push(`Action taken: confirmed by ${alarm.confirmed_by}.`);
  if (alarm.shelved_until !== null)
    acts.push(`Shelved until ${showTime(alarm.shelved_until)} by ${alarm.shelved_by}: ${alarm.shelved_why}.`);
  if (alarm.out_of_service)
    acts.push(`Taken out of service by ${alarm.out_of_service_by}: ${alarm.out_of_service_why}.`);
  if (alarm.suppressed_by !== null) acts.push(`Suppressed by design: ${alarm.suppressed_by}.`);
  const isSaid = [alarm.shelved_why, alarm.out_of_service_why, ''].includes(alarm.note);
  return isSaid ? acts : [...acts, alarm.note];
}

function fillAlarmCard(card, alarm) {
  const isSpokenFor =
    alarm.state === 'acknowledged' && alarm.grouped_under !== null && alarm.acknowledged_by === '';
  const [mark, words] = isSpokenFor
    ? ['△', 'active, in a group']
    : (ALARM_STATES[alarm.state] ?? ['?', alarm.state]);
  const open = ACKNOWLEDGEABLE.has(alarm.state);
  card.classList.toggle('abnormal', !HIDDEN.has(alarm.state) && (alarm.active || open));
  card.classList.toggle('unacknowledged', open);
  card.querySelector('.mark').textContent = mark;
  card.querySelector('.name').textContent = `${alarm.motor}: ${alarm.alarm}, priority ${alarm.priority}`;
  card.querySelector('.state').textContent = words;
  const since = alarm.since === null ? '' : `. Since ${showTime(alarm.since)}.`;
  card.querySelector('.says').textContent = `${alarm.evidence?.says ?? ''}${since}`;
  card.querySelector('.action').textContent = [...sayAdvice(alarm), ...sayActs(alarm)].join(' ');
  card.querySelector('form').hidden = !open;
}

function drawAlarms(body) {
  const list = find('alarms');
  find('flood').textContent =
    body.flood === null ? '' : `▲ More alarms than a person can answer, since ${showTime(body.flood.since)}.`;
  const shown = body.alarms.filter((alarm) => alarm.state !== 'normal');
  if (shown.length === 0) {
    const none = document.createElement('p');
    none.textContent = '○ No alarm.';
    list.replaceChildren(none);
    return;
  }
  const cards = new Map([...list.querySelectorAll('.alarm')].map((card) => [card.dataset.id, card]));
  const wanted = shown.map((alarm) => {
    const card = cards.get(alarm.id) ?? newAlarmCard(alarm);
    fillAlarmCard(card, alarm);
    return card;
  });
  const isSame =
    wanted.length === list.children.length && wanted.every((card, i) => list.children[i] === card);
  if (!isSame) list.replaceChildren(...wanted); // an unchanged list keeps the focus in a half-filled form
}

async function acknowledge(id, form) {
  const answer = form.querySelector('output');
  const body = { who: form.elements.who.value, note: form.elements.note.value };
  answer.textContent = 'Sending…';
  try {
    const response = await fetch(`/api/v1/alarms/${encodeURIComponent(id)}/acknowledge`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify(body),
    });
    const result = await response.json();
    answer.textContent = response.ok ? 'Acknowledged.' : `${result.detail} ${result.hint}`;
  } catch {
    answer.textContent = 'The gateway does not answer. Try again.';
  }
  scheduleRefresh(0);
}

async function fetchJson(path) {
  const response = await fetch(path);
  if (!response.ok) throw new Error(`${path}: ${response.status}`);
  return response.json();
}

async function refresh() {
  refreshTimer = null;
  refreshedAt = Date.now();
  try {
    const [motors, alarms] = await Promise.all([
      fetchJson('/api/v1/motors'),
      fetchJson('/api/v1/alarms?state=open'),
    ]);
    heardAt = Date.now();
    drawMotors(motors);
    drawAlarms(alarms);
    showAges(); // not a second later: a row that was drawn anew must not stand without its age
  } catch {
    // the clock below tells the reader how old the picture is
  }
  scheduleRefresh(REFRESH_MOST_MS);
}

function scheduleRefresh(waitMs) {
  const due = Math.max(refreshedAt + REFRESH_LEAST_MS, Date.now() + waitMs);
  if (refreshTimer !== null) {
    if (refreshTimer.due <= due) return;
    clearTimeout(refreshTimer.id);
  }
  refreshTimer = { due, id: setTimeout(() => void refresh(), due - Date.now()) };
}

function showAges() {
  const link = find('link');
  const silentMs = Date.now() - heardAt;
  const isLost = heardAt > 0 && silentMs > REFRESH_MOST_MS + 5000;
  link.classList.toggle('lost', isLost || heardAt === 0);
  link.textContent = isLost
    ? `✖ No word from the gateway for ${showSpan(silentMs)}: these values are old`
    : heardAt === 0
      ? '… Waiting for the gateway'
      : '○ Live';
  find('clock').textContent = `${showTime(now())} (${zone})`;
  for (const td of document.querySelectorAll('.age[data-time]')) {
    const ageMs = now() - new Date(td.dataset.time).getTime();
    const isOld = ageMs > OLD_AFTER_MS;
    td.textContent = `${isOld ? '⏱ ' : ''}${showSpan(ageMs)} ago`;
    td.classList.toggle('old', isOld);
  }
}

const live = new EventSource('/api/v1/live');
for (const kind of ['rate', 'alarm', 'drive', 'transient']) {
  live.addEventListener(kind, () => scheduleRefresh(0));
}
setInterval(showAges, CLOCK_EVERY_MS);
void refresh();
