import { StripDown, StripDownRequest, StripDowns, StripDownsQuery } from '../../contract/strip-downs.ts';
import type { App, Context } from '../context.ts';
import { scoreOf, scoreSentence, tallyOf } from '../deciding/score.ts';
import { Refusal } from '../errors.ts';
import { closed, Done, IdParams } from '../http/schemas.ts';
import type { StripDownRecord } from '../records/strip-downs.ts';

export function stripDownRoutes(app: App, { records, now }: Context): void {
  const { assets, findings, stripDowns } = records;

  const view = (entry: StripDownRecord): StripDown => ({
    ...entry,
    assetName: assets.asset(entry.assetId).name,
    score: scoreOf(entry.said, entry.damage),
    sentence: scoreSentence(entry.said, entry.damage),
  });

  app.get(
    '/strip-downs',
    { schema: { querystring: closed(StripDownsQuery), response: { 200: StripDowns } } },
    (request) => {
      const { assetId } = request.query;
      if (assetId !== undefined) assets.asset(assetId);
      const entries = stripDowns.list(assetId).map(view);
      return { entries, tally: tallyOf(entries.map(({ score }) => score)) };
    },
  );

  app.post(
    '/assets/:id/strip-downs',
    { schema: { params: IdParams, body: closed(StripDownRequest), response: { 200: StripDown } } },
    (request) => {
      const { id } = assets.asset(request.params.id);
      const { locationId, openedMs = now(), damage, ...entry } = request.body;
      const location = assets.location(locationId);
      if (location.assetId !== id)
        throw new Refusal('LOCATION_NOT_FOUND', {
          field: 'locationId',
          message: 'This location belongs to another asset.',
        });
      if (openedMs > now() + 60_000)
        throw new Refusal('SPAN_INVALID', { field: 'openedMs', message: 'The opening lies in the future.' });
      const look = findings.before(locationId, openedMs);
      return view(
        stripDowns.add({
          ...entry,
          assetId: id,
          locationId,
          location: location.name,
          openedMs,
          damage: [...new Set(damage)],
          enteredBy: request.session?.person.name ?? '',
          said: look && { verdict: look.verdict, bearing: look.bearing, atMs: look.atMs },
        }),
      );
    },
  );

  app.delete(
    '/strip-downs/:id',
    { schema: { params: IdParams, response: { 200: Done } }, config: { access: 'shop' } },
    (request) => {
      stripDowns.remove(request.params.id);
      return { done: true as const };
    },
  );
}
