import { existsSync } from 'node:fs';
import { join, resolve, sep } from 'node:path';
import fastifyStatic from '@fastify/static';
import type { FastifyReply, FastifyRequest } from 'fastify';
import type { App } from '../context.ts';
import { Refusal } from '../errors.ts';

/** A year; the names of these files change with their content. */
const FOR_EVER = 'public, max-age=31536000, immutable';

/**
 * Serves the built page. Any address without a file behind it gives the page itself, which shows the right view
 * by its own address; unknown addresses below `/api` and unknown files are errors.
 */
export async function servePage(app: App, webRoot: string): Promise<void> {
  const root = resolve(webRoot);
  const hashed = join(root, 'assets') + sep;
  const built = () => existsSync(join(root, 'index.html'));
  await app.register(fastifyStatic, {
    root,
    cacheControl: false,
    dotfiles: 'ignore',
    setHeaders(reply, path) {
      reply.setHeader('cache-control', path.startsWith(hashed) ? FOR_EVER : 'no-cache');
    },
  });
  app.setNotFoundHandler((request: FastifyRequest, reply: FastifyReply) => {
    const path = request.url.split('?')[0] ?? '';
    const isView =
      (request.method === 'GET' || request.method === 'HEAD') && !/^\/api(\/|$)|\.[^/]*$/.test(path);
    if (!isView) throw new Refusal('ROUTE_NOT_FOUND');
    if (built()) return reply.sendFile('index.html');
    return reply
      .code(503)
      .type('text/plain; charset=utf-8')
      .send("The page has not been built. Run 'npm run build', then load this address again.\n");
  });
}
