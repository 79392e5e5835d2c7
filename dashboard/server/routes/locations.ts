import { Type } from 'typebox';
import {
  LocationRequest,
  MountRequest,
  ReadingsQuery,
  SpectrumQuery,
  TrendQuery,
} from '../../contract/http.ts';
import { KeptSpectrum, Location, LocationReading, Trend } from '../../contract/model.ts';
import type { App, Context } from '../context.ts';
import { change, closed, Done, IdParams } from '../http/schemas.ts';
import { spectrumOfLocation } from '../spectrum.ts';
import { readingsOfLocation, trendOfLocation } from '../trend.ts';
import { locationView } from '../view.ts';

export function locationRoutes(app: App, context: Context): void {
  const { records, newest } = context;
  const { assets, mounts } = records;

  async function view(locationId: number): Promise<Location> {
    await newest.refresh();
    const location = assets.location(locationId);
    return locationView(context, location, assets.asset(location.assetId));
  }

  app.get('/locations/:id', { schema: { params: IdParams, response: { 200: Location } } }, (request) =>
    view(request.params.id),
  );

  app.patch(
    '/locations/:id',
    { schema: { params: IdParams, body: change(LocationRequest), response: { 200: Location } } },
    (request) => {
      assets.changeLocation(request.params.id, request.body);
      return view(request.params.id);
    },
  );

  app.delete(
    '/locations/:id',
    { schema: { params: IdParams, response: { 200: Done } }, config: { access: 'shop' } },
    (request) => {
      assets.removeLocation(request.params.id);
      return { done: true as const };
    },
  );

  app.put(
    '/locations/:id/mount',
    { schema: { params: IdParams, body: closed(MountRequest), response: { 200: Location } } },
    (request) => {
      mounts.put(request.params.id, request.body.mount);
      return view(request.params.id);
    },
  );

  app.get(
    '/locations/:id/readings',
    {
      schema: {
        params: IdParams,
        querystring: closed(ReadingsQuery),
        response: { 200: Type.Array(LocationReading) },
      },
    },
    (request) => readingsOfLocation(context, request.params.id, request.query),
  );

  app.get(
    '/locations/:id/trend',
    { schema: { params: IdParams, querystring: closed(TrendQuery), response: { 200: Trend } } },
    (request) => trendOfLocation(context, request.params.id, request.query),
  );

  app.get(
    '/locations/:id/spectrum',
    { schema: { params: IdParams, querystring: closed(SpectrumQuery), response: { 200: KeptSpectrum } } },
    (request) => spectrumOfLocation(context, request.params.id, request.query),
  );
}
