/**
 * Asks each request who it comes from, before a handler sees it: the cookie of a session on the page, or name and password.
 * Source: RFC 7617 for Basic, RFC 6265 for the cookie, RFC 9110 for 401, 403 and 429.
 */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { mayDo, needOf, type Access, type Need, type Visitor } from './access.js';
import type { LoginAnswer, LoginDesk } from './login-desk.js';
import { describeForbidden, describeLimited, describeUnknown, ProblemError } from './problem.js';

declare module 'fastify' {
  interface FastifyRequest {
    /** null: nobody was asked, or nobody said */
    visitor: Visitor | null;
    /** a screen on the wall, without a login where others have one: it learns what happened, not who did what */
    isWall: boolean;
  }
  interface FastifyContextConfig {
    need?: Need;
  }
}

export const COOKIE = 'tallypost_session';
const COOKIES_LENGTH_MOST = 4_096;
const CREDENTIALS_LENGTH_MOST = 1_024;

/** `now`: the gateway's clock, ms. */
export function admitVisitors(
  server: FastifyInstance,
  access: Access,
  desk: LoginDesk,
  now: () => number,
): void {
  server.decorateRequest('visitor', null);
  server.decorateRequest('isWall', false);
  server.addHook('onRequest', async (request, reply) => {
    if (desk.isOpen) return;
    const path = request.routeOptions.url ?? request.url.split('?', 1)[0] ?? '';
    const need = needOf(request.method, path, request.routeOptions.config.need, access);
    if (need === 'open' && request.headers.authorization === undefined && findToken(request) === null) return;
    request.visitor = await identify(request, reply, desk, now(), need === 'open');
    request.isWall = request.visitor === null;
    if (need === 'open' || (need === 'kiosk' && access.kiosk)) return;
    if (request.visitor === null) throw askWho(request, reply);
    if (!mayDo(request.visitor, need)) throw refuseRole(request.visitor, need);
  });
}

/** The token of the page's session; null: the request brings none. */
export function findToken(request: Pick<FastifyRequest, 'headers'>): string | null {
  const { cookie } = request.headers;
  if (cookie === undefined || cookie.length > COOKIES_LENGTH_MOST) return null;
  for (const part of cookie.split(';')) {
    const [name, value] = part.trim().split('=', 2);
    if (name === COOKIE && value !== undefined) return value;
  }
  return null;
}

/** null: it does not say. Throws for a wrong password, unless nobody asked for one. */
async function identify(
  request: FastifyRequest,
  reply: FastifyReply,
  desk: LoginDesk,
  now: number,
  isVoluntary: boolean,
): Promise<Visitor | null> {
  const token = findToken(request);
  const session = token === null ? null : desk.findSession(token, now);
  if (session !== null) return session.visitor;
  const given = readBasic(request.headers.authorization);
  if (given === null) return null;
  const answer = await desk.login(given.name, given.password, request.ip, now);
  if (answer.ok) return answer.visitor;
  if (isVoluntary) return null;
  throw refuseLogin(answer, request, reply);
}

/** Whether what a request was allowed still is: a stream outlives the logout, the end of a session, and another configuration. */
export function isStillAdmitted(
  request: Pick<FastifyRequest, 'visitor' | 'headers'>,
  access: Access,
  desk: LoginDesk,
  now: number,
): boolean {
  if (desk.isOpen) return true;
  if (request.visitor === null) return access.kiosk;
  const token = findToken(request);
  const session = token === null ? null : desk.findSession(token, now);
  if (session !== null) return session.visitor.name === request.visitor.name;
  return readBasic(request.headers.authorization) !== null && desk.knows(request.visitor);
}

/** Also for the login of the page. */
export function refuseLogin(
  answer: Extract<LoginAnswer, { ok: false }>,
  request: FastifyRequest,
  reply: FastifyReply,
): ProblemError {
  if (answer.reason === 'limited') {
    reply.header('retry-after', String(answer.waitS));
    return new ProblemError(
      describeLimited('Too many logins failed.', `Wait ${answer.waitS} s, then try again.`),
    );
  }
  return askWho(request, reply, 'The name or the password is wrong.');
}

function askWho(
  request: FastifyRequest,
  reply: FastifyReply,
  detail = 'This asks for a login.',
): ProblemError {
  // a browser answers Basic with a window of its own, where the page has a better one
  const isPage = request.headers['sec-fetch-site'] !== undefined;
  reply.header(
    'www-authenticate',
    isPage ? 'Session realm="tallypost"' : 'Basic realm="tallypost", charset="UTF-8"',
  );
  const hint =
    'Log in with POST /api/v1/session, or send name and password of a user of http.users with each request.';
  return new ProblemError(describeUnknown(detail, hint));
}

function refuseRole({ name, role }: Visitor, need: Need): ProblemError {
  return new ProblemError({
    ...describeForbidden(
      `${name} has the role ${role}; this asks for ${need === 'kiosk' ? 'view' : need}.`,
      'Ask whoever keeps http.users in the configuration, or log in as somebody else.',
    ),
    reason: 'role',
  });
}

function readBasic(header: string | undefined): { name: string; password: string } | null {
  const encoded = /^basic +([A-Za-z0-9+/]+=*)$/i.exec(header?.slice(0, CREDENTIALS_LENGTH_MOST) ?? '')?.[1];
  if (encoded === undefined) return null;
  const text = Buffer.from(encoded, 'base64').toString('utf8');
  const colon = text.indexOf(':');
  return colon < 0 ? null : { name: text.slice(0, colon), password: text.slice(colon + 1) };
}
