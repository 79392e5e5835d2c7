import type { FastifyRequest } from 'fastify';
import { OwnerView } from '../../contract/owner.ts';
import type { App, Context } from '../context.ts';
import { Refusal } from '../errors.ts';
import { ownerView } from '../owner/owner-view.ts';

const PREFIX = 'Bearer ';
/** What an owner opens again and again is one view. */
const VIEWS_PER_MINUTE = 60;

/**
 * What a link opens, and nothing else: its own prefix, without cookies. The token comes in a header; in an address it
 * would stand in histories and in the logs of whatever passes the request on.
 */
export function ownerRoutes(app: App, context: Context): void {
  const { records, limits, config: station, log } = context;
  const linkOf = ({ headers }: FastifyRequest) => {
    const { authorization = '' } = headers;
    return authorization.startsWith(PREFIX)
      ? records.ownerLinks.check(authorization.slice(PREFIX.length))
      : null;
  };
  app.addHook('onSend', async (_request, reply) => {
    void reply
      .header('cache-control', 'no-store')
      .header('referrer-policy', 'no-referrer')
      .header('x-robots-tag', 'noindex, nofollow');
  });

  app.get('/', { prefixTrailingSlash: 'no-slash' }, (_request, reply) =>
    reply.sendFile('owner.html', station.webRoot),
  );

  // Right tokens count for themselves: who guesses from the same address does not lock an owner out.
  const keyGenerator = (request: FastifyRequest) => {
    const link = linkOf(request);
    return link === null ? request.ip : `link ${link.id}`;
  };
  const max = (_request: FastifyRequest, key: string) =>
    key.startsWith('link ') ? VIEWS_PER_MINUTE : limits.wrongLinksPerMinute;

  app.get(
    '/view',
    {
      schema: { response: { 200: OwnerView } },
      config: { rateLimit: { max, timeWindow: 60_000, keyGenerator } },
    },
    async (request) => {
      // One answer to all that is wrong: made up, changed, expired and revoked are not told apart.
      const link = linkOf(request);
      if (link === null) throw new Refusal('LINK_NOT_VALID');
      const view = await ownerView(context, records.assets.asset(link.assetId), link.expiresMs);
      try {
        records.ownerLinks.noteOpened(link.id);
      } catch (error) {
        // On a full disk the owner still sees it.
        log.warn(`an opened link could not be counted: ${(error as Error).message}`);
      }
      return view;
    },
  );
}
