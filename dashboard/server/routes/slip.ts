import { runSlip } from '../../../collector/index.ts';
import { SlipRequest, SlipResult } from '../../contract/slip.ts';
import type { App, Context } from '../context.ts';
import { closed, IdParams } from '../http/schemas.ts';
import { gearRatioOf } from '../runs/gear-ratio.ts';
import { createSources } from '../runs/sources.ts';

/** Slip needs no samples, only what the vehicle told. */
export function slipRoutes(app: App, { records, config, now }: Context): void {
  const sources = createSources(records, config, now);

  app.post(
    '/runs/:id/slip',
    { schema: { params: IdParams, body: closed(SlipRequest), response: { 200: SlipResult } } },
    (request): SlipResult => {
      const run = records.runs.run(request.params.id);
      const { converter = 'open', gearRatio, ...part } = request.body;
      const { fromMs, toMs } = sources.spanOf(run, part);
      return runSlip({
        told: records.vehicleValues.series(run.id, fromMs, toMs),
        converter,
        ratioIn: gearRatioOf(records.driveTrains.of(run.assetId)),
        ...(gearRatio === undefined ? {} : { gearRatio }),
      });
    },
  );
}
