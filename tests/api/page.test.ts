/** What the page says of alarms, drawn on a document that only remembers texts. */
import { readFileSync } from 'node:fs';
import vm from 'node:vm';
import { expect, it } from 'vitest';
import type { AlarmRecord } from '../../src/core/alarm-rows.js';
import { toAlarmBody } from '../../src/api/body-maps.js';
import { alarm, makeFakeGateway, NOW } from './fake-gateway.js';

class Element {
  readonly parts = new Map<string, Element>();
  readonly dataset = {};
  readonly classList = { toggle: () => undefined, add: () => undefined };
  readonly content: { firstElementChild: Element };
  children: Element[] = [];
  textContent = '';
  hidden = false;
  constructor(isTemplate = false) {
    this.content = { firstElementChild: isTemplate ? new Element() : this };
  }
  querySelector(name: string): Element {
    return getOrMake(this.parts, name, () => new Element());
  }
  querySelectorAll(): Element[] {
    return [];
  }
  replaceChildren(...children: Element[]): void {
    this.children = children;
  }
  cloneNode(): Element {
    return new Element();
  }
  addEventListener(): void {
    // nobody clicks here
  }
}

function getOrMake<T>(map: Map<string, T>, key: string, make: () => T): T {
  const found = map.get(key) ?? make();
  map.set(key, found);
  return found;
}

/** The page with these alarms, as its elements by id. */
async function draw(alarms: readonly AlarmRecord[], flood: object | null): Promise<Map<string, Element>> {
  const elements = new Map<string, Element>();
  const find = (id: string) => getOrMake(elements, id, () => new Element(id === 'alarm-card'));
  const plan = makeFakeGateway().plan();
  const now = new Date(NOW).toISOString();
  const bodies = {
    motors: { zone: 'Europe/London', now, site: 'tarn-hollow', motors: [] },
    alarms: { now, flood, alarms: alarms.map((one) => toAlarmBody(one, plan)) },
  };
  const answer = (path: string) => ({
    ok: true,
    json: () => Promise.resolve(path.includes('motors') ? bodies.motors : bodies.alarms),
  });
  vm.runInNewContext(readFileSync(new URL('../../src/api/page/page.js', import.meta.url), 'utf8'), {
    document: { getElementById: find, querySelectorAll: () => [], createElement: () => new Element() },
    fetch: (path: string) => Promise.resolve(answer(path)),
    ...{ setTimeout: () => 0, clearTimeout: () => undefined, setInterval: () => 0 },
    EventSource: Element,
  });
  await new Promise((resolve) => setImmediate(resolve));
  await new Promise((resolve) => setImmediate(resolve));
  return elements;
}

const textsOf = (card: Element | undefined): string =>
  ['.name', '.state', '.says', '.action'].map((name) => card?.querySelector(name).textContent).join(' | ');

it('an alarm is shown with what to do, what it may come to, and why it is set so', async () => {
  const { action, consequence, rationale } = toAlarmBody(alarm, makeFakeGateway().plan());
  const text = textsOf((await draw([alarm], null)).get('alarms')?.children[0]);
  for (const part of [`Do: ${action}`, `If nobody acts: ${consequence}`, `Why it is set so: ${rationale}`]) {
    expect(part).toMatch(/: .{4}/);
    expect(text).toContain(part);
  }
});

it('a member of a group is not called acknowledged, and why an alarm is held is said', async () => {
  const member: AlarmRecord = {
    ...alarm,
    ...{ acknowledged: true, acknowledgedBy: '', groupedUnder: 'zone-hall.zone-silent' },
    state: 'acknowledged',
    heldBy: 'no-readings',
  };
  const text = textsOf((await draw([member], null)).get('alarms')?.children[0]);
  expect(text).toContain('active, in a group');
  expect(text).not.toContain('acknowledged');
  expect(text).toContain('zone-hall.zone-silent stands for it. Held: its sensor sends nothing.');
});

it('a flood is said above the list, as long as it lasts', async () => {
  const since = new Date(NOW).toISOString();
  expect((await draw([alarm], { since })).get('flood')?.textContent).toMatch(/^▲ More alarms than/);
  expect((await draw([alarm], null)).get('flood')?.textContent).toBe('');
});

it('what the page hides stays hidden, whatever its style says of its display', () => {
  const css = readFileSync(new URL('../../src/api/page/page.css', import.meta.url), 'utf8');
  expect(css).toMatch(/\[hidden\]\s*\{\s*display: none !important;/);
});
