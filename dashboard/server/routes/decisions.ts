import { Type } from 'typebox';
import {
  Decision,
  DecisionAnswer,
  DecisionFigures,
  DecisionRequest,
  DecisionSupport,
  DecisionSupportQuery,
} from '../../contract/decisions.ts';
import type { App, Context } from '../context.ts';
import { decisionAnswer } from '../deciding/costs.ts';
import { decisionSupport } from '../deciding/support.ts';
import { Refusal } from '../errors.ts';
import { closed, IdParams } from '../http/schemas.ts';
import type { LocationRecord } from '../records/assets.ts';

export function decisionRoutes(app: App, { records, trends, now }: Context): void {
  const { assets, decisions } = records;

  function ownLocation(assetId: number, locationId: number): LocationRecord {
    const location = assets.location(locationId);
    if (location.assetId !== assets.asset(assetId).id)
      throw new Refusal('LOCATION_NOT_FOUND', {
        field: 'figures.locationId',
        message: 'This location belongs to another asset.',
      });
    return location;
  }

  app.get(
    '/locations/:id/decision-support',
    {
      schema: {
        params: IdParams,
        querystring: closed(DecisionSupportQuery),
        response: { 200: DecisionSupport },
      },
    },
    (request) => decisionSupport({ records, trends, now }, assets.location(request.params.id), request.query),
  );

  app.post(
    '/assets/:id/decision-costs',
    { schema: { params: IdParams, body: DecisionFigures, response: { 200: DecisionAnswer } } },
    (request) =>
      decisionAnswer(records, ownLocation(request.params.id, request.body.locationId), request.body),
  );

  app.get(
    '/assets/:id/decisions',
    { schema: { params: IdParams, response: { 200: Type.Array(Decision) } } },
    (request) => decisions.list(assets.asset(request.params.id).id),
  );

  app.post(
    '/assets/:id/decisions',
    { schema: { params: IdParams, body: closed(DecisionRequest), response: { 200: Decision } } },
    async (request) => {
      const { figures, chosen, decidedBy, decidedMs = now(), note, refusal } = request.body;
      const location = ownLocation(request.params.id, figures.locationId);
      if (decidedMs > now() + 60_000)
        throw new Refusal('SPAN_INVALID', {
          field: 'decidedMs',
          message: 'The decision lies in the future.',
        });
      const option = figures.options.find(({ name }) => name === chosen);
      if (option === undefined)
        throw new Refusal('VALIDATION_FAILED', { field: 'chosen', message: 'No option has this name.' });
      const answer = decisionAnswer(records, location, figures);
      const against = answer.caution !== null && option.kind === 'watch';
      if (against && refusal?.textShown !== answer.caution) throw new Refusal('SAFETY_ADVICE_UNANSWERED');
      const { keptMonths, part } = figures;
      return decisions.add({
        assetId: location.assetId,
        locationId: location.id,
        location: location.name,
        chosen,
        decidedBy,
        decidedMs,
        enteredBy: request.session?.person.name ?? '',
        note,
        figures,
        answer,
        support: await decisionSupport({ records, trends, now }, location, { keptMonths, part }),
        // Who follows the advice refuses nothing.
        refusal: against ? refusal : null,
      });
    },
  );
}
