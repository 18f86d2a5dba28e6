/** The gateway is killed between two events: who follows the live stream misses no entry of the journal and hears none twice. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { startGatewayProcess, type GatewayProcess } from '../support/gateway-process.js';

const CONFIG = `
site: workshop
motors:
  pump-1: { drive: {}, positions: { de: {} } }
`;
const KILLS = 3;
const ACTS_EACH = 4;

let folder: string;
let gateway: GatewayProcess;
const heard: { readonly id: number; readonly text: string }[] = [];
const agains: string[] = [];
let lastId = '';

const start = (ports?: { mqtt: number; http: number }): Promise<GatewayProcess> =>
  startGatewayProcess({
    ...{ configFile: join(folder, 'plant.yaml'), dataDir: join(folder, 'data') },
    ...(ports === undefined ? {} : { ports }),
  });

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'tallypost-live-'));
  writeFileSync(join(folder, 'plant.yaml'), CONFIG);
  gateway = await start();
}, 60_000);
afterAll(async () => {
  await gateway.stop();
  rmSync(folder, { recursive: true, force: true });
});

/** Follows until the connection breaks, as a browser does: whole events only, and the last id with the next request. */
async function follow(): Promise<void> {
  const headers: Record<string, string> = lastId === '' ? {} : { 'last-event-id': lastId };
  const response = await fetch(`${gateway.http}/api/v1/live`, { headers });
  let text = '';
  try {
    for await (const piece of response.body as unknown as AsyncIterable<Uint8Array>) {
      text += new TextDecoder().decode(piece);
      for (let end = text.indexOf('\n\n'); end >= 0; end = text.indexOf('\n\n')) {
        take(text.slice(0, end));
        text = text.slice(end + 2);
      }
    }
  } catch {
    // it was killed
  }
}

function take(frame: string): void {
  const field = (name: string): string | undefined => new RegExp(`^${name}: (.*)$`, 'm').exec(frame)?.[1];
  lastId = field('id') ?? lastId;
  const data = field('data');
  if (data === undefined) return;
  if (field('event') === 'journal') heard.push(JSON.parse(data) as { id: number; text: string });
  if (field('event') === 'again') agains.push((JSON.parse(data) as { reason: string }).reason);
}

/** Enters an action about the motor; null: the gateway was killed meanwhile, so that nobody knows. */
async function act(note: string): Promise<number | null> {
  try {
    const response = await fetch(`${gateway.http}/api/v1/motors/pump-1/actions`, {
      ...{ method: 'POST', headers: { 'content-type': 'application/json' } },
      body: JSON.stringify({ action: 'other', note, by: 'A. Operator' }),
    });
    return response.status;
  } catch {
    return null;
  }
}

async function until(holds: () => boolean | Promise<boolean>): Promise<void> {
  const due = Date.now() + 30_000;
  while (!(await holds())) {
    if (Date.now() > due)
      throw new Error(`it did not come true: heard ${heard.map(({ id }) => id).join(' ')}`);
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

interface Stored {
  readonly journal: readonly { readonly id: number }[];
}
const readStored = async (): Promise<number[]> =>
  ((await (await fetch(`${gateway.http}/api/v1/journal?limit=1000`)).json()) as Stored).journal.map(
    ({ id }) => id,
  );

it('hears each entry once, over kills at any moment', async () => {
  let following = follow();
  await until(() => lastId !== '');
  const first = (await readStored()).length;
  for (let kill = 0; kill < KILLS; kill++) {
    for (let i = 0; i < ACTS_EACH; i++) expect(await act(`${kill}/${i}`)).toBe(200);
    // one more is under way when it is killed: stored or not, told or not
    const last = act(`${kill}/last`);
    await new Promise((resolve) => setTimeout(resolve, kill));
    gateway.child.process.kill('SIGKILL');
    await gateway.child.ended;
    await Promise.all([last, following]);
    gateway = await start({ mqtt: gateway.mqttPort, http: gateway.httpPort });
    following = follow();
    await until(() => agains.length === kill + 1);
  }
  expect(await act('at the end')).toBe(200);
  await until(async () => (await readStored()).at(-1) === heard.at(-1)?.id);
  expect(heard.map(({ id }) => id)).toEqual((await readStored()).slice(first));
  expect(heard.length).toBeGreaterThanOrEqual(KILLS * ACTS_EACH + 1);
  expect(agains).toEqual(Array(KILLS).fill('restarted'));
  await gateway.stop();
  await following;
}, 120_000);
