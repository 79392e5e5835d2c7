import { MAX_PACKET_BYTES, SITE_PATTERN } from '../firmware-protocol/index.ts';
import { BrokerError } from './errors.ts';

export interface BrokerConfig {
  /** Address to listen on. Default 127.0.0.1: this computer only. */
  host?: string;
  /** Default 1883; 0 takes any free port. */
  port?: number;
  /** PEM texts. With them the port speaks TLS only. */
  tls?: { cert: string | Buffer; key: string | Buffer };
  site: string;
  /** Longest MQTT packet taken, without its fixed header. Default: the longest sample packet and its topic. */
  maxPacketBytes?: number;
  /** Default 2000. */
  maxConnections?: number;
  /** Default 1000: all nodes of a workshop may come through one router. */
  maxConnectionsPerAddress?: number;
  /** A client that has not logged in by then is cut off. Default 10 s. */
  connectTimeoutMs?: number;
  /** A subscriber that takes nothing for so long is cut off: until then it holds up the others. Default 5 s. */
  drainTimeoutMs?: number;
}

export type BrokerSettings = Readonly<Required<Omit<BrokerConfig, 'tls'>> & Pick<BrokerConfig, 'tls'>>;

/** Room for the topic and the packet identifier in front of the longest sample packet. */
const TOPIC_ALLOWANCE_BYTES = 256;
/** A CONNECT holds names, a password and a last will: 8 KiB is plenty, and nobody has logged in yet. */
export const MAX_CONNECT_BYTES = 8192;

/**
 * Messages of one client that may be on their way to the disk at once. Many share one disk write; even a memory card that
 * takes 100 ms for each then lets a node send 300 kB a second.
 */
export const MAX_IN_HAND_BYTES = 32_768;

/** Fills in the defaults. Throws BrokerError `BROKER_BAD_SETTING`. */
export function brokerSettings(config: BrokerConfig): BrokerSettings {
  const settings = {
    host: '127.0.0.1',
    port: 1883,
    maxPacketBytes: MAX_PACKET_BYTES + TOPIC_ALLOWANCE_BYTES,
    maxConnections: 2000,
    maxConnectionsPerAddress: 1000,
    connectTimeoutMs: 10_000,
    drainTimeoutMs: 5_000,
    ...config,
  };
  if (!SITE_PATTERN.test(settings.site)) {
    throw new BrokerError('BROKER_BAD_SETTING', `site '${settings.site}': 1 to 31 of a-z, 0-9 and '-'`);
  }
  if (!Number.isInteger(settings.port) || settings.port < 0 || settings.port > 65535) {
    throw new BrokerError('BROKER_BAD_SETTING', `port ${settings.port} is not a port number`);
  }
  const counts = [
    'maxPacketBytes',
    'maxConnections',
    'maxConnectionsPerAddress',
    'connectTimeoutMs',
    'drainTimeoutMs',
  ] as const;
  for (const name of counts) {
    if (!Number.isInteger(settings[name]) || settings[name] < 1) {
      throw new BrokerError('BROKER_BAD_SETTING', `${name} must be a whole number above 0`);
    }
  }
  return Object.freeze(settings);
}
