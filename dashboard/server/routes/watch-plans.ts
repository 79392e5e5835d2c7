import { Type } from 'typebox';
import {
  OpenWatchPlan,
  WatchPlan,
  WatchPlanEnd,
  WatchPlanRequest,
  WatchSuggestion,
  WatchSuggestionQuery,
} from '../../contract/watch-plans.ts';
import type { App, Context } from '../context.ts';
import { safetyCaution } from '../deciding/part-kind.ts';
import { openWatchPlans, watchPlanDue } from '../deciding/watch-due.ts';
import { standingOf } from '../deciding/watch-standing.ts';
import { watchSuggestion } from '../deciding/watch-suggestion.ts';
import { Refusal } from '../errors.ts';
import { closed, IdParams } from '../http/schemas.ts';
import type { WatchPlanRecord } from '../records/watch-plans.ts';

export function watchPlanRoutes(app: App, { records, trends, now }: Context): void {
  const { assets, watchPlans } = records;

  async function view(plan: WatchPlanRecord): Promise<WatchPlan> {
    if (plan.endedMs !== null)
      return { ...plan, caution: null, lastCountedMs: null, nextDueMs: null, overdueMs: 0, standing: [] };
    const standing = await standingOf(trends, stillThere(plan));
    const { locationId } = plan;
    const caution = locationId === null ? null : safetyCaution(records, assets.location(locationId));
    return { ...plan, caution, ...watchPlanDue(records, plan, now()), standing };
  }

  /** A location that was deleted since takes its limits along. */
  function stillThere({ assetId, stopLimits }: WatchPlanRecord): WatchPlanRecord['stopLimits'] {
    const ids = new Set(assets.locations(assetId).map(({ id }) => id));
    return stopLimits.filter(({ locationId }) => ids.has(locationId));
  }

  function demandOwn(assetId: number, locationId: number, field: string): void {
    if (assets.location(locationId).assetId !== assetId)
      throw new Refusal('LOCATION_NOT_FOUND', { field, message: 'This location belongs to another asset.' });
  }

  app.get('/watch-plans', { schema: { response: { 200: Type.Array(OpenWatchPlan) } } }, () =>
    Promise.all(
      openWatchPlans(records, now()).map(async (plan) => ({
        ...plan,
        assetName: assets.asset(plan.assetId).name,
        location: plan.locationId === null ? null : assets.location(plan.locationId).name,
        reached: (await standingOf(trends, stillThere(plan)))
          .filter(({ reached }) => reached === true)
          .map(({ sentence }) => sentence),
      })),
    ),
  );

  app.get(
    '/assets/:id/watch-plans',
    { schema: { params: IdParams, response: { 200: Type.Array(WatchPlan) } } },
    (request) => Promise.all(watchPlans.list(assets.asset(request.params.id).id).map(view)),
  );

  app.post(
    '/assets/:id/watch-plans',
    { schema: { params: IdParams, body: closed(WatchPlanRequest), response: { 200: WatchPlan } } },
    (request) => {
      const { id } = assets.asset(request.params.id);
      const { locationId, stopLimits } = request.body;
      if (locationId !== null) demandOwn(id, locationId, 'locationId');
      for (const [i, limit] of stopLimits.entries())
        demandOwn(id, limit.locationId, `stopLimits.${i}.locationId`);
      return view(watchPlans.begin(id, request.body, request.session?.person.name ?? ''));
    },
  );

  app.post(
    '/watch-plans/:id/end',
    { schema: { params: IdParams, body: closed(WatchPlanEnd), response: { 200: WatchPlan } } },
    (request) =>
      view(watchPlans.end(request.params.id, request.body.reason, request.session?.person.name ?? '')),
  );

  app.get(
    '/assets/:id/watch-suggestion',
    {
      schema: {
        params: IdParams,
        querystring: closed(WatchSuggestionQuery),
        response: { 200: WatchSuggestion },
      },
    },
    (request) => {
      const asset = assets.asset(request.params.id);
      const { locationId } = request.query;
      if (locationId !== undefined) demandOwn(asset.id, locationId, 'locationId');
      return watchSuggestion({ records, trends, now }, asset, request.query);
    },
  );
}
