import { Type } from 'typebox';
import { judgeShaker, SHAKER_SECONDS, type ShakerCheckResult } from '../../../collector/index.ts';
import { NodeRequest } from '../../contract/http.ts';
import { Location } from '../../contract/model.ts';
import {
  FeltTap,
  GravityCheckState,
  SensorRecord,
  SensorRequest,
  ShakerReference,
  StationSettings,
} from '../../contract/rig.ts';
import type { App, Context } from '../context.ts';
import { Refusal } from '../errors.ts';
import { closed, Done, IdParams } from '../http/schemas.ts';
import { locationView } from '../view.ts';

const SensorParams = Type.Object({
  nodeId: NodeRequest.properties.nodeId,
  sensor: Type.Integer({ minimum: 0, maximum: 15 }),
});

/** Newest blocks may be on their way. */
const SHAKER_SPAN_MS = 1000 * (SHAKER_SECONDS + 5);

/** The sensors themselves: taps, inventory, checks, mounts that have turned. */
export function rigRoutes(app: App, context: Context): void {
  const { records, rig, newest, log } = context;
  const { checks } = rig;
  const ofSensor = '/nodes/:nodeId/sensors/:sensor';

  app.get('/felt-taps', { schema: { response: { 200: Type.Array(FeltTap) } } }, () => rig.taps());

  app.get('/sensors', { schema: { response: { 200: Type.Array(SensorRecord) } } }, () =>
    records.sensors.list(),
  );

  app.put(
    ofSensor,
    { schema: { params: SensorParams, body: closed(SensorRequest), response: { 200: SensorRecord } } },
    ({ params: { nodeId, sensor }, body }) => records.sensors.put(nodeId, sensor, body),
  );

  const check = { schema: { params: SensorParams, response: { 200: GravityCheckState } } };
  app.post(`${ofSensor}/gravity-check`, check, ({ params: { nodeId, sensor } }) => {
    records.sensors.mustKnow(nodeId);
    return checks.begin(nodeId, sensor);
  });
  app.get(`${ofSensor}/gravity-check`, check, ({ params: { nodeId, sensor } }) =>
    checks.state(nodeId, sensor),
  );

  app.post(
    `${ofSensor}/gravity-check/save`,
    { schema: { params: SensorParams, response: { 200: SensorRecord } } },
    ({ params: { nodeId, sensor } }) => {
      const { atMs: _, ...result } = checks.finish(nodeId, sensor);
      log.info(`sensor ${sensor + 1} of node ${nodeId} was checked against gravity`);
      return records.sensors.addCheck(nodeId, sensor, result);
    },
  );

  app.delete(
    `${ofSensor}/gravity-check`,
    { schema: { params: SensorParams, response: { 200: Done } } },
    ({ params: { nodeId, sensor } }) => {
      checks.giveUp(nodeId, sensor);
      return { done: true as const };
    },
  );

  app.post(
    `${ofSensor}/shaker-check`,
    { schema: { params: SensorParams, body: closed(ShakerReference), response: { 200: SensorRecord } } },
    async ({ params: { nodeId, sensor }, body }) => {
      records.sensors.mustKnow(nodeId);
      const toMs = context.now();
      const seconds = await context.readings.readings({ nodeId, sensor }, toMs - SHAKER_SPAN_MS, toMs);
      let result: ShakerCheckResult;
      try {
        result = judgeShaker(seconds, body);
      } catch (cause) {
        if (!(cause instanceof RangeError)) throw cause;
        const { message } = cause;
        throw new Refusal('SHAKER_CHECK_UNUSABLE', {
          message: `${message.charAt(0).toUpperCase()}${message.slice(1)}.`,
          cause,
        });
      }
      log.info(`sensor ${sensor + 1} of node ${nodeId} was checked on a shaker`);
      return records.sensors.addShakerCheck(nodeId, sensor, result);
    },
  );

  /** The mount is right as it is now: its present direction is learned, and a new stretch begins. */
  app.post(
    '/locations/:id/mount/confirm',
    { schema: { params: IdParams, response: { 200: Location } } },
    async ({ params: { id } }) => {
      const location = records.assets.location(id);
      records.stretches.confirm(id);
      await newest.refresh();
      return locationView(context, location, records.assets.asset(location.assetId));
    },
  );

  app.get('/settings', { schema: { response: { 200: StationSettings } } }, () => records.settings.read());

  app.put(
    '/settings',
    {
      schema: { body: closed(StationSettings), response: { 200: StationSettings } },
      config: { access: 'shop' },
    },
    ({ body }) => records.settings.write(body),
  );
}
