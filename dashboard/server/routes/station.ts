import { Type } from 'typebox';
import { Health } from '../../contract/http.ts';
import { StationAddress } from '../../contract/rig.ts';
import type { App, Context } from '../context.ts';
import { Refusal } from '../errors.ts';
import { stationHealth } from '../health.ts';
import { Done } from '../http/schemas.ts';

/** Who is not logged in learns whether the station is well, and nothing else about it. */
const HealthAnswer = Type.Union([Health, Type.Object({ ok: Type.Boolean() })]);

export function stationRoutes(app: App, context: Context): void {
  const { records, live, log } = context;
  let starting = false;

  app.post('/demo', { schema: { response: { 200: Done } }, config: { access: 'shop' } }, async () => {
    if (context.startDemo === undefined) throw new Refusal('DEMO_NOT_AVAILABLE');
    if (starting || records.assets.list().length > 0) throw new Refusal('STATION_NOT_EMPTY');
    starting = true;
    try {
      await context.startDemo();
      log.info('the demo was started');
    } finally {
      starting = false;
    }
    return { done: true as const };
  });

  app.get('/station', { schema: { response: { 200: StationAddress } } }, () => {
    if (context.station === undefined) throw new Refusal('STATION_ADDRESS_UNKNOWN');
    return context.station();
  });

  app.get(
    '/health',
    { schema: { response: { 200: HealthAnswer } }, config: { access: 'open' } },
    async (request) => {
      const health = stationHealth(await context.health(), live.state(), context.now());
      return request.session === null ? { ok: health.ok } : health;
    },
  );
}
