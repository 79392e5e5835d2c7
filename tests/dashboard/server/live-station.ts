import { once } from 'node:events';
import type { AddressInfo } from 'node:net';
import { createServer, type Server, type Socket } from 'node:net';
import { Aedes } from 'aedes';
import mqtt from 'mqtt';
import { onTestFinished } from 'vitest';
import WebSocket from 'ws';
import { zoneOf } from '../../../collector/index.ts';
import type { ClientMessage, ServerMessage } from '../../../dashboard/contract/live.ts';
import type { Limits } from '../../../dashboard/server/config.ts';
import { createDashboard } from '../../../dashboard/server/index.ts';
import { storedReadings } from './stored-readings.ts';
import { clock, HEALTHY, PASSWORD, records } from './support.ts';
import { tempDir } from './temp-dir.ts';

export const SITE = 'depot';

/** A real broker that asks for the dashboard's password, and can be taken away and brought back. */
async function broker() {
  const published: string[] = [];
  let aedes: Aedes;
  let server: Server;
  let port = 0;
  const sockets = new Set<Socket>();

  async function start(): Promise<void> {
    aedes = await Aedes.createBroker();
    aedes.authenticate = (_client, username, password, done) =>
      done(null, username === 'dashboard' ? password?.toString() === 'key' : username === 'collector');
    aedes.on('publish', ({ topic }) => void published.push(topic));
    server = createServer((socket) => {
      sockets.add(socket);
      aedes.handle(socket);
    });
    server.listen(port, '127.0.0.1');
    await once(server, 'listening');
    port = (server.address() as AddressInfo).port;
  }

  async function stop(): Promise<void> {
    if (!server.listening) return;
    const closed = once(server, 'close');
    server.close();
    for (const socket of sockets) socket.destroy();
    await closed;
    await new Promise<void>((resolve) => aedes.close(resolve));
  }

  await start();
  onTestFinished(stop);
  return { start, stop, published, url: `mqtt://127.0.0.1:${port}` };
}

/** Dashboard on a port, with a broker, and a collector's client that publishes what a collector would. */
export async function liveStation(options: { limits?: Partial<Limits>; password?: string } = {}) {
  const time = clock();
  const store = records(time);
  const readings = await storedReadings();
  const mqttBroker = await broker();
  const logged: string[] = [];
  const note = (message: string) => void logged.push(message);
  const dashboard = await createDashboard(
    {
      port: 0,
      webRoot: tempDir(),
      site: SITE,
      mqtt: { url: mqttBroker.url, username: 'dashboard', password: options.password ?? 'key' },
    },
    {
      records: store,
      readings: readings.reader,
      zoneOf,
      health: () => HEALTHY,
      log: { info: note, warn: note, error: note },
      now: time.now,
      limits: { heartbeatMs: 100, ...options.limits },
    },
  );
  onTestFinished(() => dashboard.close());
  const collector = mqtt.connect(mqttBroker.url, {
    username: 'collector',
    password: 'key',
    reconnectPeriod: 50,
  });
  onTestFinished(() => collector.endAsync(true).then(() => undefined));

  const person = await store.people.create('Kim', PASSWORD, 'technician');

  function logIn() {
    const { token, session } = store.sessions.open(person);
    return { cookie: `clampline-session=${token}`, session };
  }

  async function get(path: string, cookie: string) {
    const response = await fetch(`${dashboard.url}${path}`, { headers: { cookie } });
    // biome-ignore lint/suspicious/noExplicitAny: tests look into answers whose shape they are about to check
    return (await response.json()) as any;
  }

  return {
    time,
    store,
    readings,
    logged,
    dashboard,
    broker: mqttBroker,
    collector,
    logIn,
    get,
    browser: (cookie: string, origin?: string) => openBrowser(dashboard.url, cookie, origin),
    publish: (topic: string, message: unknown, retain = false) =>
      collector.publishAsync(topic, typeof message === 'string' ? message : JSON.stringify(message), {
        qos: 1,
        retain,
      }),
    fed: async (cookie: string) =>
      eventually(async () => (await get('/api/health', cookie)).mqtt.connected === true),
  };
}

/** A browser's live line, which remembers everything it was sent. */
async function openBrowser(url: string, cookie: string, origin = url) {
  const socket = new WebSocket(`${url.replace('http', 'ws')}/api/live`, { headers: { cookie, origin } });
  const messages: ServerMessage[] = [];
  socket.on('message', (data) => messages.push(JSON.parse(String(data))));
  const closed = once(socket, 'close').then(([code, reason]) => ({ code, reason: String(reason) }));
  socket.on('error', () => undefined);
  await once(socket, 'open');
  onTestFinished(() => socket.terminate());
  const of = <Type extends ServerMessage['type']>(type: Type) =>
    messages.filter((message) => message.type === type) as Extract<ServerMessage, { type: Type }>[];
  return {
    socket,
    messages,
    of,
    closed,
    send: (message: ClientMessage | string) =>
      socket.send(typeof message === 'string' ? message : JSON.stringify(message)),
    waitFor: <Type extends ServerMessage['type']>(type: Type, count = 1) =>
      eventually(() => (of(type).length >= count ? of(type) : undefined)),
  };
}

/** Asks again and again until the answer is there; the test's own time limit ends a wait in vain. */
export async function eventually<Answer>(
  ask: () => Answer | Promise<Answer>,
): Promise<Exclude<Answer, undefined | false>> {
  for (;;) {
    const answer = await ask();
    if (answer !== undefined && answer !== false) return answer as Exclude<Answer, undefined | false>;
    await new Promise((resolve) => setTimeout(resolve, 10));
  }
}
