/** Routes for what is stored: rollups, transients, ledger, diagnostics, quarantine; and the backup. */
import { z } from 'zod';
import { isAbsolute } from 'node:path';
import { writeRollup } from '../../../shared/write-messages.js';
import {
  backupBody,
  backupRequest,
  diagnosticsBody,
  ledgerBody,
  quarantineBody,
  rollupsBody,
  transientsBody,
} from '../bodies.js';
import { toDiagnosticBody, toLedgerBody, toQuarantineBody, toTransientBody } from '../body-maps.js';
import type { ApiDeps, Page } from '../deps.js';
import { cutPage, listParameters } from '../pages.js';
import {
  checkOrder,
  motorParameter,
  orderParameter,
  pageParameters,
  periodParameter,
  rangeParameters,
  sensorParameter,
  toPageQuery,
} from '../parameters.js';
import { describeInvalid, describeNotFound, ProblemError } from '../problem.js';
import { defineRoute, type Route } from '../route.js';

const none = z.strictObject({});

/** What was taken out of the configuration keeps its past; a name that never was must not read as "nothing happened". */
async function isSensor(sensor: string, deps: ApiDeps): Promise<boolean> {
  return (
    deps.plan().sensors.has(sensor) || (await deps.reader.sensors()).some((row) => row.sensor === sensor)
  );
}

async function isMotor(motor: string, deps: ApiDeps): Promise<boolean> {
  return (
    deps.plan().motors.has(motor) || (await deps.reader.lastTransients()).some((row) => row.motor === motor)
  );
}

function isNothing({ items }: Page<unknown>, { cursor }: { cursor?: string | undefined }): boolean {
  return items.length === 0 && cursor === undefined;
}

const rollups = defineRoute({
  method: 'GET',
  path: '/api/v1/rollups',
  summary: 'Sums of pulses and time by class over 10 s, 1 min, 10 min or 1 h',
  query: z.strictObject({ ...pageParameters, sensor: sensorParameter, period: periodParameter }),
  params: none,
  body: null,
  response: rollupsBody,
  list: 'rollups',
  problems: [[404, 'there is no such sensor']],
  async handle({ query }, deps) {
    const { sensor = null } = query;
    const page = await deps.reader.rollups({
      ...{ ...toPageQuery(query), sensor },
      period: query.period ?? '1m',
    });
    if (sensor !== null && isNothing(page, query) && !(await isSensor(sensor, deps)))
      throw new ProblemError(
        describeNotFound(`There is no sensor "${sensor}".`, 'GET /api/v1/sensors lists the sensors.'),
      );
    return { rollups: page.items.map(writeRollup), next: page.next };
  },
});

const transients = defineRoute({
  method: 'GET',
  path: '/api/v1/transients',
  summary: 'Starts and stops with the pulses that were set aside',
  query: z.strictObject({ ...pageParameters, motor: motorParameter }),
  params: none,
  body: null,
  response: transientsBody,
  list: 'transients',
  problems: [[404, 'there is no such motor']],
  async handle({ query }, deps) {
    const { motor = null } = query;
    const page = await deps.reader.transients({ ...toPageQuery(query), motor });
    if (motor !== null && isNothing(page, query) && !(await isMotor(motor, deps)))
      throw new ProblemError(
        describeNotFound(`There is no motor "${motor}".`, 'GET /api/v1/motors lists the motors.'),
      );
    return { transients: page.items.map(toTransientBody), next: page.next };
  },
});

const ledger = defineRoute({
  method: 'GET',
  path: '/api/v1/ledger',
  summary: 'The balance of every counted pulse, proved from the store',
  query: z.strictObject({ ...rangeParameters, sensor: sensorParameter, ...listParameters }),
  params: none,
  body: null,
  response: ledgerBody,
  list: 'sensors',
  problems: [[404, 'nothing was ever counted at this sensor']],
  async handle({ query }, deps) {
    checkOrder(query);
    const rows = await deps.reader.ledger({
      sensor: query.sensor ?? null,
      from: query.from ?? null,
      to: query.to ?? null,
    });
    if (
      query.sensor !== undefined &&
      !(await deps.reader.sensors()).some((row) => row.sensor === query.sensor)
    )
      throw new ProblemError(
        describeNotFound(
          `Nothing was ever counted at a sensor "${query.sensor}".`,
          'GET /api/v1/sensors lists the sensors.',
        ),
      );
    const page = cutPage(rows, ({ sensor }) => sensor, query);
    const balanced = rows.every((row) => row.balanced);
    return { balanced, sensors: page.items.map(toLedgerBody), next: page.next };
  },
});

const diagnostics = defineRoute({
  method: 'GET',
  path: '/api/v1/diagnostics',
  summary: 'What a controls engineer should know about wiring, clocks and messages',
  query: z.strictObject(listParameters),
  params: none,
  body: null,
  response: diagnosticsBody,
  list: 'diagnostics',
  async handle({ query }, deps) {
    const rows = await deps.reader.diagnostics();
    const page = cutPage(rows, ({ subject, kind }) => `${subject} ${kind}`, query);
    return { diagnostics: page.items.map(toDiagnosticBody), next: page.next };
  },
});

const quarantine = defineRoute({
  method: 'GET',
  path: '/api/v1/quarantine',
  summary: 'Messages that could not be used, with the reason and their first bytes',
  query: z.strictObject({ ...pageParameters, order: orderParameter }),
  params: none,
  body: null,
  response: quarantineBody,
  list: 'quarantine',
  async handle({ query }, deps) {
    const page = await deps.reader.quarantine({ ...toPageQuery(query), order: query.order });
    return { quarantine: page.items.map(toQuarantineBody), next: page.next };
  },
});

const backup = defineRoute({
  method: 'POST',
  path: '/api/v1/backups',
  summary: 'Write a consistent copy of the store to a new file while the gateway runs',
  query: none,
  params: none,
  body: backupRequest,
  response: backupBody,
  problems: [[409, 'there is a file of that name already']],
  async handle({ body }, deps) {
    if (!isAbsolute(body.path)) {
      const fault = { name: 'path', fault: `"${body.path}" is not an absolute path` };
      throw new ProblemError(describeInvalid([fault], 'Give the whole path, from the root of the disk.'));
    }
    const { bytes } = await deps.backup(body.path);
    return { path: body.path, bytes };
  },
});

export const historyRoutes: readonly Route[] = [rollups, transients, ledger, diagnostics, quarantine, backup];
