import { Type } from 'typebox';
import { OwnerLink, OwnerLinkMade, OwnerLinkRequest } from '../../contract/owner.ts';
import type { App, Context } from '../context.ts';
import { closed, IdParams } from '../http/schemas.ts';

const PartParams = Type.Object({ ...IdParams.properties, part: IdParams.properties.id });

/** Links that the shop gives to owners: made, listed and revoked. */
export function ownerLinkRoutes(app: App, { records }: Context): void {
  const { assets, ownerLinks } = records;
  const config = { access: 'shop' as const };
  const list = { 200: Type.Array(OwnerLink) };

  app.get('/assets/:id/owner-links', { schema: { params: IdParams, response: list }, config }, (request) =>
    ownerLinks.list(assets.asset(request.params.id).id),
  );

  app.post(
    '/assets/:id/owner-links',
    {
      schema: { params: IdParams, body: closed(OwnerLinkRequest), response: { 200: OwnerLinkMade } },
      config,
    },
    (request) => ownerLinks.make(request.params.id, request.body.days, request.session?.person.name ?? ''),
  );

  app.delete(
    '/assets/:id/owner-links/:part',
    { schema: { params: PartParams, response: list }, config },
    (request) => {
      const { id, part } = request.params;
      ownerLinks.revoke(id, part);
      return ownerLinks.list(id);
    },
  );
}
