import { Type } from 'typebox';
import { AssetRequest, LocationRequest } from '../../contract/http.ts';
import { Asset, Location } from '../../contract/model.ts';
import type { App, Context } from '../context.ts';
import { change, closed, Done, IdParams } from '../http/schemas.ts';
import { allAssetsView, assetView, locationView } from '../view.ts';

export function assetRoutes(app: App, context: Context): void {
  const { records, newest } = context;
  const { assets } = records;

  app.get('/assets', { schema: { response: { 200: Type.Array(Asset) } } }, async () => {
    await newest.refresh();
    return allAssetsView(context);
  });

  app.post('/assets', { schema: { body: closed(AssetRequest), response: { 200: Asset } } }, (request) =>
    assetView(context, assets.add(request.body)),
  );

  app.patch(
    '/assets/:id',
    { schema: { params: IdParams, body: change(AssetRequest), response: { 200: Asset } } },
    async (request) => {
      await newest.refresh();
      return assetView(context, assets.change(request.params.id, request.body));
    },
  );

  app.delete(
    '/assets/:id',
    { schema: { params: IdParams, response: { 200: Done } }, config: { access: 'shop' } },
    (request) => {
      assets.remove(request.params.id);
      return { done: true as const };
    },
  );

  app.post(
    '/assets/:id/locations',
    { schema: { params: IdParams, body: closed(LocationRequest), response: { 200: Location } } },
    (request) => {
      const location = assets.addLocation(request.params.id, request.body);
      return locationView(context, location, assets.asset(location.assetId));
    },
  );
}
