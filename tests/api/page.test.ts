/** How the built page is served: one index for all addresses, hashed files for ever, packed where the browser takes it. */
import { brotliDecompressSync, gunzipSync } from 'node:zlib';
import { expect, it } from 'vitest';
import { buildServer } from '../../src/api/server.js';
import { PAGE_SEGMENTS } from '../../shared/page-paths.js';
import { makeFakeGateway } from './fake-gateway.js';

const server = buildServer(makeFakeGateway(), '127.0.0.1');

async function get(url: string, headers: Record<string, string> = {}) {
  return server.inject({ method: 'GET', url, headers: { host: '127.0.0.1:8080', ...headers } });
}

async function firstAsset(): Promise<string> {
  const { body } = await get('/');
  const found = /src="(\/assets\/[^"]+\.js)"/.exec(body)?.[1];
  if (found === undefined) throw new Error(`the index names no script:\n${body}`);
  return found;
}

it('every address of the page is answered with its index, and none other', async () => {
  const index = await get('/');
  expect(index.statusCode).toBe(200);
  expect(index.headers['content-type']).toBe('text/html; charset=utf-8');
  expect(index.headers['cache-control']).toBe('no-cache');
  for (const segment of PAGE_SEGMENTS) {
    expect((await get(`/${segment}`)).body).toBe(index.body);
    if (segment !== '') expect((await get(`/${segment}/booster-4?from=1`)).body).toBe(index.body);
  }
  expect((await get('/nothing-here')).statusCode).toBe(404);
  expect((await get('/assets/../package.json')).statusCode).toBe(404);
});

it('files with a hash in their name are kept for ever, and the index is asked for again', async () => {
  const asset = await get(await firstAsset());
  expect(asset.headers['cache-control']).toBe('public, max-age=31536000, immutable');
  const index = await get('/');
  const again = await get('/', { 'if-none-match': String(index.headers['etag']) });
  expect([again.statusCode, again.body]).toEqual([304, '']);
});

it('a browser gets the packing that it takes, and the same content in each', async () => {
  const path = await firstAsset();
  const plain = await get(path);
  expect(plain.headers['content-encoding']).toBeUndefined();
  const br = await get(path, { 'accept-encoding': 'gzip, deflate, br' });
  expect(br.headers['content-encoding']).toBe('br');
  expect(brotliDecompressSync(br.rawPayload)).toEqual(plain.rawPayload);
  const gzip = await get(path, { 'accept-encoding': 'gzip, br;q=0' });
  expect(gzip.headers['content-encoding']).toBe('gzip');
  expect(gunzipSync(gzip.rawPayload)).toEqual(plain.rawPayload);
  expect(gzip.headers['vary']).toBe('accept-encoding');
});

it('the policy lets the page load from its own origin only, and the index asks for nothing else', async () => {
  const { headers, body } = await get('/');
  const policy = String(headers['content-security-policy']);
  expect(policy).toContain("default-src 'none'; script-src 'self'");
  expect(policy).not.toMatch(/unsafe|https?:|\*|data:/);
  for (const [, address] of body.matchAll(/(?:src|href)="([^"]*)"/g)) expect(address).toMatch(/^\/assets\//);
  expect(body).not.toMatch(/<style|<script>|style="|\son[a-z]+="/);
});
