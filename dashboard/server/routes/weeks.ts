import { Type } from 'typebox';
import { AssetEvent, AssetEventRequest, RunTrendRequest, Trends, TrendsQuery } from '../../contract/weeks.ts';
import type { App, Context } from '../context.ts';
import { Refusal } from '../errors.ts';
import { closed, Done, IdParams } from '../http/schemas.ts';
import { whichStandsApart } from '../weeks/stands-apart.ts';

const PartParams = Type.Object({ ...IdParams.properties, part: IdParams.properties.id });

export function weekRoutes(app: App, { records, trends, now }: Context): void {
  const { assets, assetEvents, periodLevels, runs } = records;

  app.get(
    '/trends',
    { schema: { querystring: closed(TrendsQuery), response: { 200: Trends } } },
    async (request) => {
      const { locationIds, ...query } = request.query;
      const { fromMs = 0, toMs = now() } = query;
      if (fromMs >= toMs) throw new Refusal('SPAN_INVALID', { field: 'fromMs' });
      const ids = [...new Set(locationIds.split(',').map(Number))];
      for (const id of ids) assets.location(id);
      const side = await Promise.all(ids.map((id) => trends.of(id, query)));
      return { trends: side, apart: whichStandsApart(side) };
    },
  );

  app.get(
    '/assets/:id/events',
    { schema: { params: IdParams, response: { 200: Type.Array(AssetEvent) } } },
    (request) => assetEvents.list(assets.asset(request.params.id).id),
  );

  app.post(
    '/assets/:id/events',
    { schema: { params: IdParams, body: closed(AssetEventRequest), response: { 200: AssetEvent } } },
    (request) => {
      const { id } = assets.asset(request.params.id);
      const { atMs = now() } = request.body;
      if (atMs > now() + 60_000)
        throw new Refusal('SPAN_INVALID', { field: 'atMs', message: 'The event lies in the future.' });
      return assetEvents.add(id, request.body, request.session?.person.name ?? '');
    },
  );

  app.delete(
    '/assets/:id/events/:part',
    { schema: { params: PartParams, response: { 200: Done } } },
    (request) => {
      const { id, part } = request.params;
      assetEvents.remove(assets.asset(id).id, part);
      return { done: true as const };
    },
  );

  app.put(
    '/runs/:id/trend',
    { schema: { params: IdParams, body: closed(RunTrendRequest), response: { 200: Done } } },
    (request) => {
      const { id } = runs.run(request.params.id);
      periodLevels.leaveOut(id, request.body.leftOut, request.session?.person.name ?? '');
      return { done: true as const };
    },
  );
}
