import { createHash, timingSafeEqual } from 'node:crypto';
import type { FastifyRequest } from 'fastify';
import { Type } from 'typebox';
import type { App, Context } from '../context.ts';
import { Refusal } from '../errors.ts';
import { stationHealth } from '../health.ts';
import { createStationMetrics } from './station-metrics.ts';

/**
 * GET /metrics, for Prometheus. With a token set, whoever brings it may read; without one, only programs on this
 * machine. A proxy on this machine speaks for others: what it passes on is refused without a token.
 */
export function metricsRoute(app: App, context: Context): void {
  const metrics = createStationMetrics();
  const { metricsToken } = context.config;
  app.addHook('onResponse', async (request, reply) => {
    metrics.countRequest(request.method, request.routeOptions.url ?? 'none', reply.statusCode);
  });
  app.get('/metrics', { schema: { response: { 200: Type.String() } } }, async (request, reply) => {
    const allowed = metricsToken === undefined ? isFromHere(request) : bringsToken(request, metricsToken);
    if (!allowed) throw new Refusal('METRICS_REFUSED');
    const health = stationHealth(await context.health(), context.live.state(), context.now());
    reply.type(metrics.contentType).header('cache-control', 'no-store');
    const { alerts, alertOutbox } = context.records;
    const counters = {
      ...health.counters,
      alertsOpen: alerts.list({ state: 'open', limit: Number.MAX_SAFE_INTEGER }).length,
      alertMessagesWaiting: alertOutbox.waiting(),
    };
    return metrics.text({ ...health, counters });
  });
}

function isFromHere({ socket, headers }: FastifyRequest): boolean {
  const address = (socket.remoteAddress ?? '').replace(/^::ffff:/, '');
  const isLoopback = address === '::1' || address.startsWith('127.');
  return isLoopback && headers['forwarded'] === undefined && headers['x-forwarded-for'] === undefined;
}

function bringsToken({ headers }: FastifyRequest, token: string): boolean {
  const [, given = ''] = /^Bearer (.*)$/i.exec(headers.authorization ?? '') ?? [];
  const digest = (text: string) => createHash('sha256').update(text).digest();
  return timingSafeEqual(digest(given), digest(token));
}
