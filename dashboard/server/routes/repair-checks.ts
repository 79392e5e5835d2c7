import { Type } from 'typebox';
import { RepairCheck, RepairCheckRequest, RepairDone, RepairRuns } from '../../contract/repair-checks.ts';
import type { App, Context } from '../context.ts';
import { repairResult } from '../deciding/repair-result.ts';
import { repairSides } from '../deciding/repair-sides.ts';
import { Refusal } from '../errors.ts';
import { closed, IdParams } from '../http/schemas.ts';
import type { RepairCheckRecord } from '../records/repair-checks.ts';
import { type PlacedRun, placedRuns } from '../weeks/placed-levels.ts';

export function repairCheckRoutes(app: App, { records, now }: Context): void {
  const { assets, assetEvents, repairChecks } = records;

  function view({ runs, result, eventId: _, ...check }: RepairCheckRecord): RepairCheck {
    const location = assets.location(check.locationId);
    const placed = placedRuns(records, location, check.value);
    const isVehicle = assets.asset(check.assetId).kind === 'vehicle';
    const sides = check.repairedMs === null ? null : repairSides(placed, check.repairedMs);
    return {
      ...check,
      location: location.name,
      before: listed(sides?.before ?? [], runs.before),
      after: listed(sides?.after ?? [], runs.after),
      result: result ?? repairResult({ ...check, runs }, placed, isVehicle),
    };
  }

  /** One that has been concluded stays as it is. */
  function open(checkId: number): RepairCheckRecord {
    const check = repairChecks.check(checkId);
    if (check.concludedMs !== null) throw new Refusal('REPAIR_CHECK_CONCLUDED');
    return check;
  }

  app.get(
    '/assets/:id/repair-checks',
    { schema: { params: IdParams, response: { 200: Type.Array(RepairCheck) } } },
    (request) => repairChecks.list(assets.asset(request.params.id).id).map(view),
  );

  app.post(
    '/assets/:id/repair-checks',
    { schema: { params: IdParams, body: closed(RepairCheckRequest), response: { 200: RepairCheck } } },
    (request) => {
      const { id } = assets.asset(request.params.id);
      if (assets.location(request.body.locationId).assetId !== id)
        throw new Refusal('LOCATION_NOT_FOUND', {
          field: 'locationId',
          message: 'This location belongs to another asset.',
        });
      return view(repairChecks.add(id, request.body));
    },
  );

  app.post(
    '/repair-checks/:id/repair',
    { schema: { params: IdParams, body: closed(RepairDone), response: { 200: RepairCheck } } },
    (request) => {
      const { id, assetId, eventId } = open(request.params.id);
      const { atMs = now(), note, sensorPutBack } = request.body;
      if (atMs > now() + 60_000)
        throw new Refusal('SPAN_INVALID', { field: 'atMs', message: 'The repair lies in the future.' });
      const by = request.session?.person.name ?? '';
      // Noted again: corrected, not repaired twice.
      if (eventId !== null) assetEvents.remove(assetId, eventId);
      const event = assetEvents.add(assetId, { atMs, kind: 'repair', note }, by);
      return view(repairChecks.repaired(id, event.id, sensorPutBack));
    },
  );

  app.put(
    '/repair-checks/:id/runs',
    { schema: { params: IdParams, body: closed(RepairRuns), response: { 200: RepairCheck } } },
    (request) => view(repairChecks.chooseRuns(open(request.params.id).id, request.body)),
  );

  app.post(
    '/repair-checks/:id/conclude',
    { schema: { params: IdParams, response: { 200: RepairCheck } } },
    (request) => {
      const check = open(request.params.id);
      return view(repairChecks.conclude(check.id, view(check).result, request.session?.person.name ?? ''));
    },
  );
}

function listed(side: readonly PlacedRun[], chosen: readonly number[] | null): RepairCheck['before'] {
  return side.flatMap(({ runId, timeMs, bin, value }) =>
    runId === null
      ? []
      : [{ runId, timeMs, bin, level: value, taken: chosen === null || chosen.includes(runId) }],
  );
}
