import type { IncomingMessage, ServerResponse } from 'node:http';
import type { TypeBoxTypeProvider } from '@fastify/type-provider-typebox';
import type { FastifyBaseLogger, FastifyInstance, RawServerDefault } from 'fastify';
import type { AlertSenders } from './alerts/send/senders.ts';
import type { DashboardConfig, DashboardDeps, Limits } from './config.ts';
import type { Looks } from './findings/looks.ts';
import type { Live } from './live/live.ts';
import type { NewestReadings } from './live/newest-readings.ts';
import type { Session } from './records/sessions.ts';
import type { Rig } from './rig/rig.ts';
import type { Trends } from './weeks/trend-cache.ts';

/** The HTTP application, with schemas that type its requests. */
export type App = FastifyInstance<
  RawServerDefault,
  IncomingMessage,
  ServerResponse,
  FastifyBaseLogger,
  TypeBoxTypeProvider
>;

/** What the routes share. */
export interface Context extends Omit<DashboardDeps, 'now' | 'limits'> {
  config: Omit<DashboardConfig, 'mqtt'>;
  limits: Limits;
  now(): number;
  newest: NewestReadings;
  live: Live;
  rig: Rig;
  looks: Looks;
  trends: Trends;
  alertSenders: AlertSenders;
}

declare module 'fastify' {
  interface FastifyRequest {
    /** Who is logged in; null when nobody is. */
    session: Session | null;
  }
  interface FastifyContextConfig {
    /** Who may use the route: default is anybody logged in. */
    access?: 'open' | 'shop';
  }
}
