/** The page's three files, read once and served from memory. */
import type { FastifyInstance } from 'fastify';
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

const FILES = [
  ['/', 'index.html', 'text/html; charset=utf-8'],
  ['/page.css', 'page.css', 'text/css; charset=utf-8'],
  ['/page.js', 'page.js', 'text/javascript; charset=utf-8'],
] as const;

/** Throws where a file is missing: the build copies them beside the compiled code. */
export function addPage(server: FastifyInstance): void {
  for (const [path, file, mediaType] of FILES) {
    const content = readFileSync(fileURLToPath(new URL(`page/${file}`, import.meta.url)));
    server.get(path, (_request, reply) =>
      reply.type(mediaType).header('cache-control', 'no-cache').send(content),
    );
  }
}
