import { Type } from 'typebox';
import { KNOWN_BEARINGS } from '../../../collector/index.ts';
import { DriveTrain, FindingRecord, FindingsRequest, KnownBearing } from '../../contract/drive-train.ts';
import type { App, Context } from '../context.ts';
import { Refusal } from '../errors.ts';
import { checkTrain } from '../findings/train-model.ts';
import { closed, IdParams } from '../http/schemas.ts';

const HistoryQuery = Type.Object({ limit: Type.Optional(Type.Integer({ minimum: 1, maximum: 2000 })) });

export function findingRoutes(app: App, { records, looks }: Context): void {
  const { assets, driveTrains, findings } = records;

  app.get('/bearings', { schema: { response: { 200: Type.Array(KnownBearing) } } }, () =>
    KNOWN_BEARINGS.map(({ designation, source }) => ({ designation, source })),
  );

  app.get(
    '/assets/:id/drive-train',
    { schema: { params: IdParams, response: { 200: DriveTrain } } },
    (request) => driveTrains.of(assets.asset(request.params.id).id),
  );

  app.put(
    '/assets/:id/drive-train',
    { schema: { params: IdParams, body: DriveTrain, response: { 200: DriveTrain } } },
    (request) => {
      const { id } = assets.asset(request.params.id);
      checkTrain(request.body, new Set(assets.locations(id).map((location) => location.id)));
      driveTrains.put(id, request.body);
      return driveTrains.of(id);
    },
  );

  app.get(
    '/locations/:id/findings',
    {
      schema: {
        params: IdParams,
        querystring: closed(HistoryQuery),
        response: { 200: Type.Array(FindingRecord) },
      },
    },
    (request) => findings.list(assets.location(request.params.id).id, request.query.limit),
  );

  app.post(
    '/locations/:id/findings',
    { schema: { params: IdParams, body: closed(FindingsRequest), response: { 200: FindingRecord } } },
    (request) => looks.look(request.params.id, request.body, request.session?.person.name ?? null),
  );

  app.get('/findings/:id/picture', { schema: { params: IdParams } }, (request, reply) => {
    const picture = findings.picture(request.params.id);
    if (picture === null) throw new Refusal('PICTURE_NOT_FOUND');
    return reply.type('image/svg+xml').send(picture);
  });
}
