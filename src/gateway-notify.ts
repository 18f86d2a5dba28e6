/**
 * Brings the notifier together with the rest: what the configuration says of routes and channels, what the plan says of an
 * alarm, and the cautions for whoever follows an advice.
 */
import { CAUTIONS } from './advice/cautions.js';
import type { Config } from './config/config.js';
import { resolveNotifySecrets } from './config/notify-secrets.js';
import type { RouteConfig } from './config/notify.js';
import { findAdvice } from './core/alarm-advice.js';
import type { Plan } from './core/plan.js';
import { findPlanned } from './core/planned-alarm.js';
import type { AlarmFacts, DescribeAlarm } from './notify/journal-page.js';
import type { NotifySettings } from './notify/channels.js';
import type { Route } from './notify/routes.js';

/** Settings, and what to beware of in how secrets are kept. Throws when a secret cannot be had. */
export function readNotifySettings(config: Config): {
  settings: NotifySettings;
  warnings: readonly string[];
} {
  const { notify, site, timeZone } = config;
  const secrets = resolveNotifySecrets(config);
  const { mail } = notify;
  const settings: NotifySettings = {
    plan: {
      ...{ site, timeZone, waitMs: notify.waitMs, queueMax: notify.queueMax, failingMs: notify.failingMs },
      routes: new Map(Object.entries(notify.routes).map(([name, route]) => [name, toRoute(name, route)])),
    },
    mail:
      mail === null
        ? null
        : {
            ...{ host: mail.host, port: mail.port, security: mail.security, from: mail.from },
            login: mail.login === null ? null : { user: mail.login.user, password: secrets.mailPassword },
            ...{ authorities: secrets.mailAuthorities, timeoutMs: mail.timeoutMs },
          },
    webhooks: new Map(
      Object.entries(notify.webhooks).map(([name, { url, timeoutMs }]) => {
        const { secret, authorization } = secrets.webhooks.get(name)!;
        return [name, { name, url, timeoutMs, secret, authorization }];
      }),
    ),
  };
  return { settings, warnings: secrets.warnings };
}

function toRoute(name: string, route: RouteConfig): Route {
  return { name, ...route };
}

type Named = Pick<AlarmFacts, 'motor' | 'kind' | 'priority'> & { readonly sensor: string | null };

/**
 * What is known of an alarm: from the plan, else from its record, else from its id, which is all that there is of the alarms
 * of the gateway itself. `respondMs`: by priority, for alarms that have no time to respond of their own.
 */
export function describeBy(
  plan: () => Plan,
  respondMs: () => Readonly<Record<AlarmFacts['priority'], number>>,
): DescribeAlarm {
  return (id, row) => {
    const { motor, sensor, kind, priority }: Named = findPlanned(plan(), id) ?? row ?? describeOwn(id);
    const { action, consequence, timeToRespondMs } = findAdvice(plan(), id);
    return {
      ...{ motor, kind, priority, action, consequence },
      zone: plan().motors.get(motor)?.zone ?? (motor.startsWith('zone-') ? motor.slice(5) : null),
      position: sensor === null ? null : sensor.slice(sensor.indexOf('/') + 1),
      respondMs: timeToRespondMs ?? respondMs()[priority],
      cautions: motor === 'gateway' || motor === 'site' ? [] : findCautions(kind, action),
    };
  };
}

/** `gateway.storage-full`, or `site` for a flood. */
function describeOwn(id: string): Named {
  const dot = id.indexOf('.');
  const [motor, kind] = dot < 0 ? [id, id === 'site' ? 'flood' : id] : [id.slice(0, dot), id.slice(dot + 1)];
  return { motor, kind, sensor: null, priority: motor === 'gateway' ? 'high' : 'medium' };
}

/** These are seen to at a desk, unless their action says otherwise. */
const DESK_KINDS = ['run-state-lost', 'clock-off', 'counter-unknown'];
const AT_THE_MOTOR = /shaft|bearing|grease|terminal|voltage|cable|sensor|motor|earth|inspect|measure/i;
const CAUTION_IDS = ['licensed-persons', 'rotating-shaft', 'live-terminals', 'automatic-restart'];

/** Sensors sit beside bearings: whoever looks at one stands at a shaft and a terminal box. */
function findCautions(kind: string, action: string): readonly string[] {
  if (DESK_KINDS.includes(kind) && !AT_THE_MOTOR.test(action)) return [];
  return CAUTIONS.filter(({ id }) => CAUTION_IDS.includes(id)).map(({ text }) => text);
}
