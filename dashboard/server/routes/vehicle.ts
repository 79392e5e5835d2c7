import { Type } from 'typebox';
import { parseRecordedData, RecordedDataError } from '../../../collector/index.ts';
import { vehicleTopic } from '../../../firmware-protocol/index.ts';
import {
  VehicleAccount,
  VehicleQuantity,
  VehicleRequest,
  VehicleSeries,
  VehicleTaken,
} from '../../contract/runs.ts';
import type { App, Context } from '../context.ts';
import { Refusal } from '../errors.ts';
import { closed, IdParams } from '../http/schemas.ts';
import type { VehicleValue } from '../records/vehicle-values.ts';
import { checkValue, valuesOf, valuesOfRun } from '../runs/vehicle-sample.ts';

const LARGEST_FILE_BYTES = 16 * 1024 ** 2;
const QUANTITIES: readonly string[] = VehicleQuantity.enum;
const FileQuery = Type.Object({
  /** When the first row was taken; needed where the file gives no dates. */
  startMs: Type.Optional(Type.Integer()),
});

/** What vehicles say of themselves: live, and from recorded files. */
export function vehicleRoutes(app: App, context: Context): void {
  const { records, live, now, config } = context;
  const { runs, vehicleValues } = records;
  const taken = { 200: VehicleTaken };

  app.post(
    '/assets/:id/vehicle',
    { schema: { params: IdParams, body: closed(VehicleRequest), response: taken } },
    (request) => ({ taken: live.runFeed.takeVehicle(request.params.id, request.body.samples) }),
  );

  app.post(
    '/runs/:id/vehicle',
    { schema: { params: IdParams, body: closed(VehicleRequest), response: taken } },
    (request) => {
      const run = runs.run(request.params.id);
      const told = request.body.samples.flatMap((sample) => valuesOf(sample, now()));
      const values = valuesOfRun(run, told, now());
      vehicleValues.add(run.id, values);
      return { taken: values.length };
    },
  );

  app.get(
    '/runs/:id/vehicle',
    { schema: { params: IdParams, response: { 200: Type.Array(VehicleSeries) } } },
    (request) => vehicleValues.series(runs.run(request.params.id).id),
  );

  app.get(
    '/vehicle-account',
    { schema: { response: { 200: VehicleAccount } }, config: { access: 'shop' } },
    () => ({
      username: 'vehicle',
      password: config.vehiclePassword ?? null,
      topic: vehicleTopic(config.site, '+'),
    }),
  );

  void app.register(async (files: App) => {
    files.addContentTypeParser(
      'text/csv',
      { parseAs: 'string', bodyLimit: LARGEST_FILE_BYTES },
      (_, body, done) => done(null, body),
    );
    files.post(
      '/runs/:id/vehicle-file',
      { schema: { params: IdParams, querystring: closed(FileQuery), response: taken } },
      (request) => {
        const run = runs.run(request.params.id);
        const told = readFile(String(request.body ?? ''), request.query.startMs ?? run.startMs);
        const values = valuesOfRun(run, told, now());
        vehicleValues.add(run.id, values);
        return { taken: values.length };
      },
    );
  });
}

function readFile(text: string, startMs: number): VehicleValue[] {
  try {
    const recorded = parseRecordedData(text);
    const fromMs = recorded.startMs ?? startMs;
    return recorded.columns.flatMap(({ quantity: name, values }) => {
      if (!QUANTITIES.includes(name)) return [];
      const quantity = name as VehicleQuantity;
      return Array.from(values).flatMap((value, row): VehicleValue[] => {
        // An empty cell.
        if (Number.isNaN(value)) return [];
        checkValue(quantity, value, row + 1);
        return [{ quantity, atMs: fromMs + 1000 * recorded.timeS[row]!, value }];
      });
    });
  } catch (cause) {
    if (!(cause instanceof RecordedDataError)) throw cause;
    throw new Refusal('VEHICLE_DATA_REFUSED', { message: cause.message, cause });
  }
}
