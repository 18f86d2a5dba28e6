/** Logging in and out on the page, and who one is: `/api/v1/session`. Its answers carry the cookie. */
import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { formatUtc, formatUtcOrNull, utcSchema } from '../../shared/time.js';
import type { Access } from './access.js';
import { ROLES } from './access.js';
import { COOKIE, findToken, refuseLogin } from './admission.js';
import type { LoginDesk } from './login-desk.js';
import { describeInvalid, ProblemError } from './problem.js';

export const sessionRequest = z.strictObject({
  name: z.string().min(1).max(64),
  password: z.string().min(1).max(512),
});

export const sessionBody = z.object({
  login_needed: z
    .boolean()
    .describe('whether there are users, so that whoever wants to do something logs in'),
  kiosk: z.boolean().describe('whether the view for the wall can be read without a login'),
  name: z.string().nullable().describe('who it is; null: nobody has logged in, or nobody is asked'),
  role: z.enum(ROLES).nullable(),
  now: utcSchema.describe("the gateway's clock"),
  until: utcSchema.nullable().describe('end of the session; null: there is none'),
});

const PATH = '/api/v1/session';

export function addSession(
  server: FastifyInstance,
  access: Access,
  desk: LoginDesk,
  now: () => number,
): void {
  const tell = (visitor: { name: string; role: string } | null, until: number | null) => ({
    ...{ login_needed: !desk.isOpen, kiosk: access.kiosk || desk.isOpen },
    ...{ name: visitor?.name ?? null, role: visitor?.role ?? null, until: formatUtcOrNull(until) },
    now: formatUtc(now()),
  });
  const cookie = (token: string, maxAgeS: number): string =>
    `${COOKIE}=${token}; Path=/; HttpOnly; SameSite=Strict; Max-Age=${maxAgeS}${access.tls === null ? '' : '; Secure'}`;
  const config = { need: 'open' as const };
  server.get(PATH, { config }, (request) => {
    const token = findToken(request);
    const session = token === null ? null : desk.findSession(token, now());
    return tell(request.visitor, session?.until ?? null);
  });
  server.post(PATH, { config }, async (request, reply) => {
    const parsed = sessionRequest.safeParse(request.body ?? {});
    if (!parsed.success) {
      const faults = parsed.error.issues.map(({ path, message }) => ({
        name: path.join('.'),
        fault: message,
      }));
      throw new ProblemError(describeInvalid(faults, 'Send {"name": "…", "password": "…"}.'));
    }
    if (desk.isOpen) return tell(null, null);
    const { name, password } = parsed.data;
    const answer = await desk.login(name, password, request.ip, now());
    if (!answer.ok) throw refuseLogin(answer, request, reply);
    const { token, until } = desk.openSession(answer.visitor, now());
    reply.header('set-cookie', cookie(token, Math.floor((until - now()) / 1000)));
    return tell(answer.visitor, until);
  });
  server.delete(PATH, { config }, (request, reply) => {
    const token = findToken(request);
    if (token !== null) desk.sessions.close(token);
    reply.header('set-cookie', cookie('', 0));
    return tell(null, null);
  });
}
