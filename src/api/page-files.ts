/**
 * The built page, read once and served from memory: files with a hash in their name for ever, the index only as long as it
 * is asked for. The index answers every address that the page has a view for.
 */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { createHash } from 'node:crypto';
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { extname } from 'node:path';
import { fileURLToPath } from 'node:url';
import { takesPacking } from './accepted-media.js';
import { PAGE_SEGMENTS } from '../../shared/page-paths.js';
import { describeUnbuilt, ProblemError } from './problem.js';

/** Beside the compiled server; from the sources, what was built last. */
const FOLDERS = ['../page/', '../../dist/src/page/'];
const INDEX = 'index.html';
const MEDIA_TYPES: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.svg': 'image/svg+xml',
};
/** what the build leaves beside a file, best first */
const ENCODINGS = [
  ['br', '.br'],
  ['gzip', '.gz'],
] as const;

interface PageFile {
  readonly mediaType: string;
  readonly content: Buffer;
  readonly packed: ReadonlyMap<string, Buffer>;
  readonly etag: string;
}

/** Ends with a slash; null: the page was never built. */
function findFolder(): string | null {
  const folders = FOLDERS.map((path) => fileURLToPath(new URL(path, import.meta.url)));
  return folders.find((folder) => existsSync(`${folder}assets`)) ?? null;
}

function readPageFile(path: string): PageFile {
  const content = readFileSync(path);
  const packed = ENCODINGS.flatMap(([name, suffix]) =>
    existsSync(path + suffix) ? [[name, readFileSync(path + suffix)] as const] : [],
  );
  return {
    mediaType: MEDIA_TYPES[extname(path)] ?? 'application/octet-stream',
    content,
    packed: new Map(packed),
    etag: `"${createHash('sha256').update(content).digest('base64url').slice(0, 22)}"`,
  };
}

function sendFile(
  request: FastifyRequest,
  reply: FastifyReply,
  file: PageFile,
  caching: string,
): FastifyReply {
  reply.header('cache-control', caching).header('etag', file.etag).header('vary', 'accept-encoding');
  if (request.headers['if-none-match'] === file.etag) return reply.code(304).send();
  reply.type(file.mediaType);
  const accepted = String(request.headers['accept-encoding'] ?? '');
  for (const [name, content] of file.packed) {
    if (takesPacking(accepted, name)) return reply.header('content-encoding', name).send(content);
  }
  return reply.send(file.content);
}

/** Adds the page's addresses. A checkout that was never built says so at each of them. */
export function addPage(server: FastifyInstance): void {
  const folder = findFolder();
  const index = folder === null ? null : readPageFile(folder + INDEX);
  const serveIndex = (request: FastifyRequest, reply: FastifyReply): FastifyReply => {
    if (index === null) throw new ProblemError(describeUnbuilt());
    return sendFile(request, reply, index, 'no-cache');
  };
  for (const segment of PAGE_SEGMENTS) {
    server.get(`/${segment}`, serveIndex);
    if (segment !== '') server.get(`/${segment}/*`, serveIndex);
  }
  if (folder === null) return;
  for (const name of readdirSync(`${folder}assets`)) {
    if (ENCODINGS.some(([, suffix]) => name.endsWith(suffix))) continue;
    const file = readPageFile(`${folder}assets/${name}`);
    server.get(`/assets/${name}`, (request, reply) =>
      sendFile(request, reply, file, 'public, max-age=31536000, immutable'),
    );
  }
}
