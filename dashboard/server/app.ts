import { once } from 'node:events';
import fastifyCookie from '@fastify/cookie';
import fastifyRateLimit from '@fastify/rate-limit';
import fastifyWebsocket from '@fastify/websocket';
import Fastify, { type FastifyServerOptions } from 'fastify';
import { startAlerts } from './alerts/start.ts';
import { type DashboardConfig, type DashboardDeps, DEFAULT_LIMITS } from './config.ts';
import type { App, Context } from './context.ts';
import { Refusal } from './errors.ts';
import { createLooks } from './findings/looks.ts';
import { createLookSchedule } from './findings/schedule.ts';
import { guard } from './http/access.ts';
import { createSessionCookie } from './http/cookie.ts';
import { answerUnreadable, createFailureAnswer } from './http/failures.ts';
import { jsonBodiesOnly } from './http/json-body.ts';
import { describeInterface, openApiRoute } from './http/openapi.ts';
import { servePage } from './http/page.ts';
import { securityHeaders } from './http/security-headers.ts';
import { validatorCompiler } from './http/validator.ts';
import { createLive, type Live } from './live/live.ts';
import { createNewestReadings, type NewestReadings } from './live/newest-readings.ts';
import { metricsRoute } from './metrics/metrics-route.ts';
import { createRig } from './rig/rig.ts';
import { alertRoutes } from './routes/alerts.ts';
import { assetRoutes } from './routes/assets.ts';
import { decisionRoutes } from './routes/decisions.ts';
import { findingRoutes } from './routes/findings.ts';
import { inquiryRoutes } from './routes/inquiries.ts';
import { liveRoute } from './routes/live.ts';
import { locationRoutes } from './routes/locations.ts';
import { nodeRoutes } from './routes/nodes.ts';
import { ownerRoutes } from './routes/owner.ts';
import { ownerLinkRoutes } from './routes/owner-links.ts';
import { peopleRoutes } from './routes/people.ts';
import { recordingRoutes } from './routes/recordings.ts';
import { repairCheckRoutes } from './routes/repair-checks.ts';
import { reportRoutes } from './routes/reports.ts';
import { rigRoutes } from './routes/rig.ts';
import { runRoutes } from './routes/runs.ts';
import { sessionRoutes } from './routes/session.ts';
import { siteRoutes } from './routes/sites.ts';
import { slipRoutes } from './routes/slip.ts';
import { stationRoutes } from './routes/station.ts';
import { stripDownRoutes } from './routes/strip-downs.ts';
import { vehicleRoutes } from './routes/vehicle.ts';
import { watchPlanRoutes } from './routes/watch-plans.ts';
import { weekRoutes } from './routes/weeks.ts';
import { directAnalyst, polite } from './runs/analyst.ts';
import { createRunKeeper } from './runs/keeper.ts';
import { createEvaluationSchedule } from './weeks/schedule.ts';
import { createTrends } from './weeks/trend-cache.ts';

const GOODBYE_MS = 500;

/** The whole HTTP interface, listening nowhere yet, and its live side, following no broker yet. */
export async function buildApp(
  config: Omit<DashboardConfig, 'mqtt'>,
  deps: DashboardDeps,
): Promise<{ app: App; live: Live }> {
  const { records, readings, zoneOf, log, now = Date.now } = deps;
  const limits = { ...DEFAULT_LIMITS, ...deps.limits };
  const rig = createRig({ records, readings, log, now });
  const live: Live = createLive({ records, rig, newest: () => newest, zoneOf, now, limits, log });
  const fed = () => live.state().connected;
  const newest: NewestReadings = createNewestReadings({ readings, fed, log, now });
  const { analyse } = deps;
  const looks = createLooks({ records, analyse, journalDir: config.journalDir, log, now });
  const trends = createTrends({ records, analyst: polite(deps.analyst ?? directAnalyst), now });
  const alerts = startAlerts({ config, deps, live, newest, rig, trends, now });
  const alertSenders = alerts.senders;
  const context: Context = { ...deps, config, limits, now, newest, live, rig, looks, trends, alertSenders };
  const keeper = createRunKeeper(records, config, log, now);
  const schedule = analyse && createLookSchedule(records, looks, log, now);
  const evaluations = createEvaluationSchedule({ records, readings }, log, now);
  const cookie = createSessionCookie(config.tls !== undefined);
  const answerFailure = createFailureAnswer(log);

  const options = {
    logger: false,
    bodyLimit: 64 * 1024,
    requestTimeout: 30_000,
    forceCloseConnections: true,
    frameworkErrors: answerFailure,
    clientErrorHandler: answerUnreadable,
  } satisfies FastifyServerOptions;
  // The library types a server with TLS apart; nothing here depends on the difference.
  const app = (config.tls ? Fastify({ ...options, https: config.tls }) : Fastify(options)) as unknown as App;
  app.setValidatorCompiler(validatorCompiler);
  app.setErrorHandler(answerFailure);
  jsonBodiesOnly(app);
  app.addHook('onClose', () => keeper.close());
  app.addHook('onClose', async () => schedule?.close());
  app.addHook('onClose', async () => {
    await evaluations.close();
    await alerts.close();
    trends.close();
  });
  await securityHeaders(app);
  await app.register(fastifyRateLimit, {
    max: limits.requestsPerMinute,
    timeWindow: 60_000,
    errorResponseBuilder: () => new Refusal('TOO_MANY_REQUESTS'),
  });
  await app.register(fastifyCookie);
  await describeInterface(app);
  await app.register(fastifyWebsocket, {
    options: { maxPayload: 4 * 1024 },
    errorHandler: (_error, socket) => socket.terminate(),
    async preClose() {
      await live.close();
      const { clients } = app.websocketServer;
      // Who does not answer the goodbye is not waited for: that would hold up the stop of the station.
      const deadline = setTimeout(() => clients.forEach((socket) => void socket.terminate()), GOODBYE_MS);
      await Promise.all([...clients].map((socket) => once(socket, 'close')));
      clearTimeout(deadline);
    },
  });
  metricsRoute(app, context);
  await app.register(
    async (api: App) => {
      api.addHook('onSend', async (_request, reply) => void reply.header('cache-control', 'no-store'));
      guard(api, context, cookie);
      sessionRoutes(api, context, cookie);
      peopleRoutes(api, context);
      stationRoutes(api, context);
      assetRoutes(api, context);
      locationRoutes(api, context);
      findingRoutes(api, context);
      weekRoutes(api, context);
      watchPlanRoutes(api, context);
      decisionRoutes(api, context);
      repairCheckRoutes(api, context);
      stripDownRoutes(api, context);
      alertRoutes(api, context);
      nodeRoutes(api, context);
      runRoutes(api, context);
      vehicleRoutes(api, context);
      slipRoutes(api, context);
      inquiryRoutes(api, context);
      recordingRoutes(api, context);
      reportRoutes(api, context);
      ownerLinkRoutes(api, context);
      rigRoutes(api, context);
      siteRoutes(api, context);
      liveRoute(api, context);
      openApiRoute(api);
    },
    { prefix: '/api' },
  );
  await servePage(app, config.webRoot);
  await app.register(async (owner: App) => ownerRoutes(owner, context), { prefix: '/owner' });
  return { app, live };
}
