import type { Socket } from 'node:net';
import { Aedes, type Client } from 'aedes';
import { brokerTopic } from '../firmware-protocol/index.ts';
import { type CredentialSource, maySubscribe } from './access.ts';
import { Admission, addressOf } from './admission.ts';
import { ClientList, type ConnectedClient } from './client-list.ts';
import { createMicrosecondClock } from './clock.ts';
import { type BrokerConfig, brokerSettings, MAX_CONNECT_BYTES, MAX_IN_HAND_BYTES } from './config.ts';
import { reportConnectionErrors } from './connection-errors.ts';
import { ConnectionGuard } from './connection-guard.ts';
import { Counters } from './counters.ts';
import { reasonOf } from './errors.ts';
import { Intake } from './intake.ts';
import type { JournalWriter } from './journal/writer.ts';
import { tellJournaled } from './journaled-notices.ts';
import { listen } from './listen.ts';
import type { Log } from './log.ts';
import { LogLimiter } from './log-limiter.ts';
import { createLogin } from './login.ts';
import { createPublishHook, type PublishPacket } from './publish-hook.ts';
import { type RefusedLogin, RefusedLogins } from './refused-logins.ts';

export interface BrokerDeps {
  credentials: CredentialSource;
  journal: JournalWriter;
  log: Log;
  /** Told of what the station's other parts publish, for nodes that are connected to another broker. */
  heardService?(topic: string, payload: Buffer): void;
  /** What is published about the broker, as JSON and retained, every few seconds. */
  state?(): object;
}

export interface Broker {
  port: number;
  /** Closes the port and every connection. The journal stays open: whoever opened it closes it. */
  close(): Promise<void>;
  /** Counts since the start, and the journal's with `journal` in front. */
  counters(): Record<string, number>;
  clients(): ConnectedClient[];
  /** Publishes for whoever is subscribed, as a message of the station's own. */
  tell(topic: string, payload: Buffer): void;
  /** Closes every connection of a node, whose credentials no longer hold; returns how many there were. */
  disconnect(nodeId: string): number;
  /** Who was not let in lately, newest first. */
  refusedLogins(): RefusedLogin[];
}

/** Subscriptions one client may hold. A node needs one; the dashboard has one for each sensor that is watched. */
const MAX_SUBSCRIPTIONS = { node: 20, service: 10_000 };

const STATE_MS = 2_000;

function subscriptionCount(client: Client): number {
  // The type declarations leave this property out.
  return Object.keys((client as unknown as { subscriptions: object }).subscriptions).length;
}

/** What the library's types leave out. */
interface Persistent {
  persistence: { storeRetained(packet: PublishPacket): Promise<void> };
}

/**
 * The station's MQTT broker (3.1.1, TCP or TLS). A node's message is acknowledged only when the journal holds it.
 *
 * It keeps no sessions: a client that comes back subscribes again, and nothing collects in memory for one that is away.
 * Retained messages live in memory; after a restart the collector publishes the newest readings again.
 *
 * Throws the BrokerErrors of its settings, port, address and certificate.
 */
export async function createBroker(config: BrokerConfig, deps: BrokerDeps): Promise<Broker> {
  const settings = brokerSettings(config);
  const { journal, log } = deps;
  const nowUs = createMicrosecondClock();
  const counters = new Counters();
  const limiter = new LogLimiter();
  const admission = new Admission(settings.maxConnections, settings.maxConnectionsPerAddress);
  const clients = new ClientList();
  const guards = new WeakMap<object, ConnectionGuard>();
  const sockets = new Set<Socket>();
  let closing = false;

  const refused = new RefusedLogins();
  const intake = new Intake(journal, counters, log, limiter);
  const tell = (topic: string, payload: Buffer, retain = false) =>
    aedes.publish({ cmd: 'publish', topic, payload, qos: 0, dup: false, retain }, () => {});

  const login = createLogin({ ...deps, counters, limiter, refused });
  const decide = createPublishHook({
    site: settings.site,
    clients,
    intake,
    counters,
    log,
    limiter,
    nowUs,
    guardOf: (client) => guards.get(client.conn)!,
    tell,
    retain: (packet) => (aedes as unknown as Persistent).persistence.storeRetained({ ...packet }),
    heardService: deps.heardService ?? (() => {}),
    closing: () => closing,
  });

  const aedes = await Aedes.createBroker({
    connectTimeout: settings.connectTimeoutMs,
    drainTimeout: settings.drainTimeoutMs,
    preConnect(_client, packet, done) {
      packet.clean = true;
      // Client identifiers are private to each user: nobody can throw out another by taking its identifier.
      if (packet.clientId !== '') packet.clientId = `${packet.username ?? ''}/${packet.clientId}`;
      done(null, true);
    },
    authenticate(client, username, password, done) {
      const answered = login(client, username, password).then((answer) => {
        if (!answer.ok) return done(answer.error, null);
        const { principal } = answer;
        if (clients.isConnected(client.id)) {
          counters.add('takeovers');
          limiter.limit(`takeover ${client.id}`, (note) =>
            log.warn(
              `${clients.nameOf(principal)} connected a second time; the first connection was closed. If this ` +
                `goes on, two devices use the same credentials.${note}`,
            ),
          );
        }
        clients.identify(client, {
          clientId: client.id.replace(`${username}/`, ''),
          principal,
          address: addressOf(client.conn as Socket),
          connectedSinceMs: Date.now(),
        });
        done(null, true);
      });
      orCut(client, answered);
    },
    authorizeSubscribe(client, subscription, done) {
      const who = clients.get(client);
      const allowed =
        who !== undefined &&
        maySubscribe(who.principal, subscription.topic, settings.site) &&
        subscriptionCount(client) < MAX_SUBSCRIPTIONS[who.principal.role];
      if (!allowed) counters.add('subscriptionsDenied');
      // Null is answered with the SUBACK code for failure; the connection goes on.
      done(null, allowed ? subscription : null);
    },
    authorizePublish(client, packet, done) {
      const decided = decide(client as Client, packet).then(() => done(null), done);
      orCut(client as Client, decided);
    },
  });

  /** Whatever goes wrong while a client is served costs that client its connection, never the station. */
  function orCut(client: Client, served: Promise<void>): void {
    served.catch((error: unknown) => {
      counters.add('brokerErrors');
      limiter.limit('broker', (note) => log.error(`broker: ${reasonOf(error)}${note}`));
      client.conn.destroy();
    });
  }

  aedes.on('clientReady', (client) => clients.connected(client));
  aedes.on('clientDisconnect', (client) => clients.disconnected(client));
  reportConnectionErrors(aedes, clients, counters, log, limiter);

  const listener = await listen(settings, {
    admit(socket) {
      const address = addressOf(socket);
      const refused = closing ? 'total' : admission.enter(address);
      if (refused !== null) {
        counters.add('connectionsRefused');
        limiter.limit(`admission ${address}`, (note) =>
          log.warn(
            `connection from ${address} refused: too many are open ` +
              `${refused === 'total' ? 'in all' : 'from this address'}.${note}`,
          ),
        );
        socket.destroy();
        return false;
      }
      counters.add('connections');
      sockets.add(socket);
      socket.once('close', () => {
        sockets.delete(socket);
        admission.leave(address);
      });
      return true;
    },
    serve(socket) {
      const limits = {
        maxConnectBytes: MAX_CONNECT_BYTES,
        maxPacketBytes: settings.maxPacketBytes,
        maxInHandBytes: MAX_IN_HAND_BYTES,
      };
      const guard = new ConnectionGuard(socket, limits, nowUs, (reason) => {
        counters.add('connectionsCut');
        limiter.limit(`cut ${addressOf(socket)}`, (note) =>
          log.warn(`connection from ${addressOf(socket)} was cut: ${reason}.${note}`),
        );
      });
      guards.set(socket, guard);
      aedes.handle(socket);
    },
    handshakeFailed: () => counters.add('tlsHandshakesFailed'),
  }).catch(async (error: unknown) => {
    await new Promise<void>((resolve) => aedes.close(resolve));
    throw error;
  });

  const stopTelling = tellJournaled(settings.site, intake.runs, tell);
  const { state } = deps;
  const sayState = () =>
    state && tell(brokerTopic(settings.site), Buffer.from(JSON.stringify(state())), true);
  const stateTimer = setInterval(sayState, STATE_MS);
  stateTimer.unref();

  return {
    port: listener.port,
    clients: () => clients.all(),
    tell: (topic, payload) => tell(topic, payload),
    disconnect(nodeId) {
      const open = clients.ofNode(nodeId);
      for (const client of open) client.close();
      if (open.length > 0) counters.add('nodesDisconnected', open.length);
      return open.length;
    },
    refusedLogins: () => refused.all(),
    counters: () => ({
      ...counters.all(),
      connectionsOpen: admission.open,
      ...prefixed('journal', journal.counters()),
    }),
    async close() {
      closing = true;
      stopTelling();
      clearInterval(stateTimer);
      const closed = listener.close();
      await new Promise<void>((resolve) => aedes.close(resolve));
      // Those that never logged in are not known to aedes.
      for (const socket of sockets) socket.destroy();
      await closed;
    },
  };
}

function prefixed(prefix: string, counts: Record<string, number>): Record<string, number> {
  return Object.fromEntries(
    Object.entries(counts).map(([name, count]) => [prefix + name[0]!.toUpperCase() + name.slice(1), count]),
  );
}
