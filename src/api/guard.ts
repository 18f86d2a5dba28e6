/**
 * What every request must satisfy before a handler sees it, and the headers that every answer carries.
 * Why the Host check: a page elsewhere may point its own name at a loopback address and so reach this interface from
 * a visitor's browser; such a request names a foreign host. Why JSON only: a plain form cannot send it across origins.
 */
import type { IncomingHttpHeaders } from 'node:http';
import type { FastifyInstance, FastifyReply } from 'fastify';
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

/**
 * Adds the checks and headers. `host`: the address it listens on, accepted beside the loopback names, the address that a
 * connection came to, and `more`, as the configuration has them.
 */
export function guardRequests(server: FastifyInstance, host: string, more: readonly string[] = []): void {
  const known = new Set([...LOOPBACK_NAMES, ...[host, ...more].map(bracket)]);
  server.addHook('onRequest', async (request) => {
    const name = nameOfHost(request.headers.host);
    const { localAddress } = request.socket;
    const isKnown = known.has(name) || (localAddress !== undefined && bracket(localAddress) === name);
    if (!isKnown) {
      throw new ProblemError(
        describeForbidden(
          `The request names the host "${name}", which is not this gateway.`,
          'Use the address that the gateway printed at its start, or add the name to http.names.',
        ),
      );
    }
    const isWrite = !['GET', 'HEAD', 'OPTIONS'].includes(request.method);
    // a DELETE has no body, and no page can send one across origins without being let in first
    // and where nothing takes it, the answer is that, not what it came as
    if (isWrite && request.method !== 'DELETE' && !request.is404) checkMediaType(request.headers);
    if (isWrite) checkOrigin(request.headers, new Set(more.map(bracket)));
    await Promise.resolve();
  });
  server.addHook('onSend', async (_request, reply) => {
    setSafeHeaders(reply);
    await Promise.resolve();
  });
}

/** Of every answer; `cache-control` where the answer has none of its own. */
export const SAFE_HEADERS: Readonly<Record<string, string>> = {
  'content-security-policy': CONTENT_SECURITY_POLICY,
  'x-content-type-options': 'nosniff',
  'referrer-policy': 'no-referrer',
  'cross-origin-resource-policy': 'same-origin',
  'cross-origin-opener-policy': 'same-origin',
  'cache-control': 'no-store',
};

/** Also for what no hook of an answer sees: what is refused before any runs, and streams. */
export function setSafeHeaders(reply: FastifyReply): void {
  const { 'cache-control': caching, ...always } = SAFE_HEADERS;
  reply.headers(always);
  if (!reply.hasHeader('cache-control')) reply.header('cache-control', caching);
}

function checkMediaType(headers: IncomingHttpHeaders): void {
  const { 'content-type': contentType, 'content-encoding': packing = 'identity' } = headers;
  if (packing.toLowerCase() !== 'identity')
    throw new ProblemError(
      describeMediaType(`A body packed with ${packing} is not accepted here.`, 'Send it as it is, unpacked.'),
    );
  if (contentType === undefined || !/^application\/json\s*(;|$)/i.test(contentType)) {
    throw new ProblemError(
      describeMediaType(
        `A ${contentType === undefined ? 'request without content type' : contentType} body is not accepted here.`,
        'Send JSON with the header content-type: application/json.',
      ),
    );
  }
}

/** An IPv6 address as a Host header writes it, other names in lower case. */
function bracket(name: string): string {
  const plain = name.replace(/^::ffff:(?=\d+\.)/, '').toLowerCase();
  return plain.includes(':') && !plain.startsWith('[') ? `[${plain}]` : plain;
}

/**
 * A page of somebody else may not change anything: not one of another port of this machine either. `names`: by which a proxy in
 * front is reached. Programs send neither header.
 * Source: RFC 6454 for Origin; the W3C's "Fetch Metadata Request Headers" for Sec-Fetch-Site.
 */
function checkOrigin(headers: IncomingHttpHeaders, names: ReadonlySet<string>): void {
  const { origin, host, 'sec-fetch-site': site } = headers;
  const isForeign = site !== undefined && site !== 'same-origin' && site !== 'none';
  if (origin === undefined && !isForeign) return;
  const from = origin !== undefined && URL.canParse(origin) ? new URL(origin) : null;
  const isOwn = from !== null && (from.host === host?.toLowerCase() || names.has(from.hostname));
  if (isOwn && !isForeign) return;
  throw new ProblemError(
    describeForbidden(
      `A page of ${origin ?? 'another origin'} may not change anything here.`,
      "Use the gateway's own page.",
    ),
  );
}
