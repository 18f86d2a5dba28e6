/** The end: does the ledger balance, where did every pulse go, and what should a person do next? */
import { runProgram } from './program.js';
import type { Station } from './station.js';
import { say, sayHeading, sayTable, tellNumber } from './voice.js';

interface LedgerSensor {
  readonly counted: number;
  readonly classified: number;
  readonly pending: number;
  readonly classes: Readonly<Record<string, { readonly pulses: number; readonly ms: number }>>;
  readonly unknown: readonly { readonly reason: string }[];
}

const MEANINGS: Readonly<Record<string, string>> = {
  running: 'while running: these make the rates',
  transient: 'around starts and stops',
  common: 'heard by several motors at once: interference',
  background: 'while standing: cross-talk or interference',
  check: 'function checks',
  rejected: 'faster than the sensor can count',
  unattributed: 'interval too long or run state unknown',
};

/** Asks `tallypost ledger` for the proof and ends the story. `seconds`: how long the demo took. */
export async function tellSummary(station: Station, seconds: number): Promise<void> {
  const { code, out, err } = await runProgram(['ledger', '--data', station.dataDir, '--json']);
  if (code > 1) throw new Error(`"tallypost ledger" ended with ${code}:\n${err}`);
  const ledger = JSON.parse(out) as { balanced: boolean; sensors: LedgerSensor[] };
  const counted = ledger.sensors.reduce((sum, sensor) => sum + sensor.counted, 0);
  const pending = ledger.sensors.reduce((sum, sensor) => sum + sensor.pending, 0);
  sayHeading('The ledger: where did every pulse go?');
  sayTable(
    ['class', 'pulses', ''],
    Object.entries(MEANINGS).map(([name, meaning]) => [
      name,
      tellNumber(ledger.sensors.reduce((sum, sensor) => sum + (sensor.classes[name]?.pulses ?? 0), 0)),
      meaning,
    ]),
  );
  if (pending > 0) say(`${tellNumber(pending)} pulses of the last seconds still wait for the run state.`);
  const unknown = ledger.sensors.reduce((sum, sensor) => sum + sensor.unknown.length, 0);
  say(
    ledger.balanced
      ? `○ It balances: the counters moved by ${tellNumber(counted)}, and every one of these pulses is in exactly one class.`
      : '✖ It does NOT balance. That is a fault of the program; please report it.',
  );
  if (unknown > 0)
    say(
      `${unknown} stretch${unknown === 1 ? '' : 'es'} that nobody can know (restarts, power cuts) ${unknown === 1 ? 'is' : 'are'} listed beside it, not guessed.`,
    );
  tellNext();
  say(`(${Math.round(seconds)} s in all)`);
  if (!ledger.balanced) process.exitCode = 1;
}

function tellNext(): void {
  sayHeading('What to do next');
  say(
    'At the station: have the shaft voltage of the motor in alarm measured by a competent person, take a grease sample, compare it with its sisters. A count is not a diagnosis, and zero counts prove nothing.',
  );
  say(
    'With the gateway: "npm run demo -- --keep" leaves it running with its page; README.md shows how to point a real sensor and a real drive at it.',
  );
}
