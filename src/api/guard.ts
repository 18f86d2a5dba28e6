/**
 * What every request must satisfy before a handler sees it, and the headers that every answer carries.
 * Why the Host check: a page elsewhere may point its own name at a loopback address and so reach this interface from
 * a visitor's browser; such a request names a foreign host. Why JSON only: a plain form cannot send it across origins.
 */
import type { FastifyInstance } from 'fastify';
import { describeForbidden, describeMediaType, ProblemError } from './problem.js';

const CONTENT_SECURITY_POLICY =
  "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
  "form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

const LOOPBACK_NAMES = ['localhost', '127.0.0.1', '[::1]'];

/** True for addresses that only this machine can reach. */
export function isLoopback(host: string): boolean {
  return host === 'localhost' || host === '::1' || /^127(?:\.\d{1,3}){3}$/.test(host);
}

/** The name part of a Host header, without its port; '' when there is none. */
function nameOfHost(header: string | undefined): string {
  if (header === undefined) return '';
  const bracket = /^(\[[0-9a-f:.]+\])(?::\d+)?$/i.exec(header);
  if (bracket !== null) return (bracket[1] ?? '').toLowerCase();
  return header.replace(/:\d+$/, '').toLowerCase();
}

/** Adds the checks and headers. `host`: the address it listens on, accepted beside the loopback names. */
export function guardRequests(server: FastifyInstance, host: string): void {
  const names = new Set([...LOOPBACK_NAMES, host.includes(':') ? `[${host}]` : host.toLowerCase()]);
  server.addHook('onRequest', async (request) => {
    const name = nameOfHost(request.headers.host);
    if (!names.has(name)) {
      throw new ProblemError(
        describeForbidden(
          `The request names the host "${name}", which is not this gateway.`,
          `Use http://${LOOPBACK_NAMES[1] ?? ''} with the port the gateway printed at its start.`,
        ),
      );
    }
    const isWrite = request.method !== 'GET' && request.method !== 'HEAD';
    // a DELETE has no body, and no page can send one across origins without being let in first
    if (isWrite && request.method !== 'DELETE') checkMediaType(request.headers['content-type']);
    if (isWrite) checkOrigin(request.headers.origin, names);
    await Promise.resolve();
  });
  server.addHook('onSend', async (_request, reply) => {
    reply.header('content-security-policy', CONTENT_SECURITY_POLICY);
    reply.header('x-content-type-options', 'nosniff');
    reply.header('referrer-policy', 'no-referrer');
    if (!reply.hasHeader('cache-control')) reply.header('cache-control', 'no-store');
    await Promise.resolve();
  });
}

function checkMediaType(contentType: string | undefined): void {
  if (contentType === undefined || !/^application\/json\s*(;|$)/i.test(contentType)) {
    throw new ProblemError(
      describeMediaType(
        `A ${contentType === undefined ? 'request without content type' : contentType} body is not accepted here.`,
        'Send JSON with the header content-type: application/json.',
      ),
    );
  }
}

function checkOrigin(origin: string | undefined, names: ReadonlySet<string>): void {
  if (origin === undefined) return;
  const originHost = URL.canParse(origin) ? new URL(origin).hostname.toLowerCase() : '';
  if (!names.has(originHost)) {
    throw new ProblemError(
      describeForbidden(`A page of ${origin} may not change anything here.`, "Use the gateway's own page."),
    );
  }
}
