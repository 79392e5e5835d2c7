import { type AddressInfo, createServer, type Server, type Socket } from 'node:net';
import { createServer as createTlsServer } from 'node:tls';
import type { BrokerSettings } from './config.ts';
import { BrokerError, reasonOf, systemCode } from './errors.ts';

export interface Listener {
  port: number;
  close(): Promise<void>;
}

export interface Arrivals {
  /** False: not let in. Called before any TLS handshake. */
  admit(socket: Socket): boolean;
  /** A connection that may speak MQTT. */
  serve(socket: Socket): void;
  /** A TLS handshake failed. */
  handshakeFailed(reason: string): void;
}

/** Opens the MQTT port. Throws the `BROKER_...` errors that concern port, address and certificate. */
export async function listen(settings: BrokerSettings, arrivals: Arrivals): Promise<Listener> {
  const server = settings.tls === undefined ? plainServer(arrivals) : tlsServer(settings, arrivals);
  await new Promise<void>((resolve, reject) => {
    server.once('error', (error) => reject(listenError(settings, error)));
    server.listen(settings.port, settings.host, resolve);
  });
  return {
    port: (server.address() as AddressInfo).port,
    close: () => new Promise((resolve) => server.close(() => resolve())),
  };
}

const SOCKET_OPTIONS = { noDelay: true, keepAlive: true, keepAliveInitialDelay: 60_000 };

function plainServer(arrivals: Arrivals): Server {
  return createServer(SOCKET_OPTIONS, (socket) => {
    if (arrivals.admit(socket)) arrivals.serve(socket);
  });
}

function tlsServer(settings: BrokerSettings, arrivals: Arrivals): Server {
  const { cert, key } = settings.tls!;
  let server: ReturnType<typeof createTlsServer>;
  try {
    server = createTlsServer({ ...SOCKET_OPTIONS, cert, key, handshakeTimeout: settings.connectTimeoutMs });
  } catch (error) {
    throw new BrokerError('BROKER_TLS_INVALID', reasonOf(error), error);
  }
  server.on('connection', (socket) => arrivals.admit(socket));
  server.on('secureConnection', (socket) => arrivals.serve(socket));
  server.on('tlsClientError', (error) => arrivals.handshakeFailed(reasonOf(error)));
  return server;
}

function listenError({ host, port }: BrokerSettings, error: Error): BrokerError {
  const where = `${host}:${port}`;
  switch (systemCode(error)) {
    case 'EADDRINUSE':
      return new BrokerError('BROKER_PORT_TAKEN', where, error);
    case 'EACCES':
      return new BrokerError('BROKER_PORT_FORBIDDEN', where, error);
    case 'EADDRNOTAVAIL':
    case 'ENOTFOUND':
      return new BrokerError('BROKER_ADDRESS_UNAVAILABLE', where, error);
    default:
      return new BrokerError('BROKER_LISTEN_FAILED', `${where} (${reasonOf(error)})`, error);
  }
}
