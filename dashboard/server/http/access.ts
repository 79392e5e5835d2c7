import type { FastifyRequest } from 'fastify';
import type { App, Context } from '../context.ts';
import { Refusal } from '../errors.ts';
import type { SessionCookie } from './cookie.ts';

const READS_ONLY = new Set(['GET', 'HEAD', 'OPTIONS']);

/**
 * Holds every route below `/api` to two rules. A request that changes something, and the opening of a websocket,
 * must come from a page of this station (against requests forged by other sites' pages). And somebody must be
 * logged in, with the role the route asks for, unless the route says that it is open.
 */
export function guard(app: App, context: Context, cookie: SessionCookie): void {
  const { records } = context;
  app.decorateRequest('session', null);
  app.addHook('onRequest', async (request, reply) => {
    if (!READS_ONLY.has(request.method) || request.ws) checkOrigin(request);

    const token = cookie.read(request);
    const used = token === undefined ? null : records.sessions.use(token);
    request.session = used?.session ?? null;
    if (used?.slid && token !== undefined) cookie.write(reply, token, used.session.expiresMs);

    const { access } = request.routeOptions.config;
    if (access === 'open') return;
    if (request.session === null) throw new Refusal('LOGIN_NEEDED');
    if (access === 'shop' && request.session.person.role !== 'shop') throw new Refusal('ROLE_NEEDED');
  });
}

/** A missing origin is refused as well: every browser sends it where it is asked for here. */
function checkOrigin(request: FastifyRequest): void {
  const { origin, host } = request.headers;
  if (origin === undefined || !URL.canParse(origin)) throw new Refusal('ORIGIN_REFUSED');
  const own = `${request.protocol}://${host}`;
  if (!URL.canParse(own) || new URL(own).origin !== new URL(origin).origin)
    throw new Refusal('ORIGIN_REFUSED');
}
