import type { AddressInfo } from 'node:net';
import mqtt, { type MqttClient } from 'mqtt';
import { buildApp } from './app.ts';
import type { DashboardConfig, DashboardDeps } from './config.ts';
import { createStationFeed } from './live/station-feed.ts';
import { StartError } from './start-error.ts';

export interface Dashboard {
  /** Where it listens, e.g. `http://127.0.0.1:8080`. */
  url: string;
  close(): Promise<void>;
}

/**
 * Starts the dashboard server. The records and readings given to it stay the caller's to close, after it.
 * Rejects with a StartError (code, message, remedy) when it cannot listen. A broker that is away does not stop the
 * start.
 */
export async function createDashboard(config: DashboardConfig, deps: DashboardDeps): Promise<Dashboard> {
  const { host = '127.0.0.1', port = 8080, site } = config;
  const { log, now = Date.now, connectMqtt = connect } = deps;
  const { app, live } = await buildApp(config, deps);
  try {
    await app.listen({ host, port });
  } catch (error) {
    await app.close();
    throw new StartError(`${host} port ${port}`, error);
  }
  const onMessage = live.take;
  live.follow(createStationFeed(connectMqtt(config.mqtt), { site, log, now, onMessage }));
  const { port: bound } = app.server.address() as AddressInfo;
  return { url: addressOf(bound, host, config.tls !== undefined), close: () => app.close() };
}

function connect({ url, username, password, ca }: DashboardConfig['mqtt']): MqttClient {
  return mqtt.connect(url, {
    username,
    password,
    ...(ca === undefined ? {} : { ca }),
    clean: true,
    reconnectPeriod: 1_000,
    connectTimeout: 10_000,
    // Subscribing again is done at every connect, so that a refusal is noticed.
    resubscribe: false,
    reconnectOnConnackError: true,
  });
}

function addressOf(port: number, host: string, tls: boolean): string {
  // A wildcard address is no place to go to; this machine is one that it covers.
  const reachable = host === '0.0.0.0' ? '127.0.0.1' : host === '::' ? '::1' : host;
  const name = reachable.includes(':') ? `[${reachable}]` : reachable;
  return `${tls ? 'https' : 'http'}://${name}:${port}`;
}
