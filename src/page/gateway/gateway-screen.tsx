/** The view "Gateway": how the gateway itself does, part by part, each with a sentence. */
import { fetchBody } from '../data/api-client.js';
import { now } from '../data/clock.js';
import { site } from '../data/plant.js';
import type { GatewayBody } from '../data/station-bodies.js';
import { usePolled } from '../data/use-polled.js';
import { ProblemNote } from '../parts/problem-note.js';
import { formatSpan } from '../times.js';
import { ClockPart } from './clock-part.js';
import { ConfigurationPart } from './configuration-part.js';
import { HealthPart } from './health-part.js';
import { IntakePart } from './intake-part.js';
import { LedgerPart } from './ledger-part.js';
import { SinkPart } from './sink-part.js';
import { PlcPart } from './plc-part.js';
import { fetchSinks, listSinks } from './sink-rows.js';
import { StoragePart } from './storage-part.js';
import '../parts/view.css';
import '../parts/station.css';
import './gateway.css';

const EVERY_MS = 5_000;
/** From then on what is shown is old, and looks so. */
const STALE_MS = 20_000;

function Heard({ at }: { at: number }) {
  const ageMs = now.value - at;
  return (
    <p class={ageMs > STALE_MS ? 'is-stale' : 'quiet'} role="status">
      {ageMs > STALE_MS ? `This is ${formatSpan(ageMs)} old.` : 'Asked every 5 s.'}
    </p>
  );
}

export function GatewayScreen() {
  const { body, problem, at, reload } = usePolled(
    'gateway',
    async (signal) => {
      const gateway = await fetchBody<GatewayBody>('/gateway', {}, signal);
      const sinks = await fetchSinks(gateway, signal);
      return { gateway, sinks: listSinks(gateway, sinks) };
    },
    EVERY_MS,
  );
  return (
    <>
      <header class="station-head">
        <h1>Gateway of {site.value}</h1>
        {at !== null && <Heard at={at} />}
      </header>
      {problem !== null && <ProblemNote problem={problem} />}
      {body === null && problem === null && <p class="quiet">Asking…</p>}
      {body !== null && (
        <div class="gateway-parts">
          <HealthPart body={body.gateway} />
          <IntakePart intake={body.gateway.intake} />
          <LedgerPart ledger={body.gateway.ledger} />
          <StoragePart storage={body.gateway.storage} />
          <ClockPart clock={body.gateway.clock} zone={body.gateway.zone} onChange={reload} />
          <SinkPart sinks={body.sinks} toCome={body.gateway.sinks_at_next_start} />
          <PlcPart lines={body.gateway.plc} />
          <ConfigurationPart configuration={body.gateway.configuration} />
        </div>
      )}
    </>
  );
}
