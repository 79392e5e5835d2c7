import type { IClientOptions } from 'mqtt';
import { SITE_PATTERN } from '../../firmware-protocol/index.ts';
import { BrokerError } from '../errors.ts';

export interface BridgeConfig {
  site: string;
  /** `mqtt://host:port`, or `mqtts://` for TLS. */
  url: string;
  username?: string;
  password?: string;
  /** Certificate to trust, PEM, when the broker's is not signed by a known authority. */
  ca?: string;
}

/** How the bridge connects. Throws BrokerError `BROKER_BAD_SETTING`. */
export function bridgeOptions({ site, url, username, password, ca }: BridgeConfig): IClientOptions {
  if (!SITE_PATTERN.test(site)) {
    throw new BrokerError('BROKER_BAD_SETTING', `site '${site}': 1 to 31 of a-z, 0-9 and '-'`);
  }
  if (!URL.canParse(url) || !/^(mqtts?|wss?):$/.test(new URL(url).protocol)) {
    throw new BrokerError(
      'BROKER_BAD_SETTING',
      `--bridge ${url}: an address like mqtt://broker.example:1883, or mqtts:// with TLS`,
    );
  }
  return {
    // The same name after every restart, so that the broker goes on where it was; another site has another one.
    clientId: `clampline-${site}`,
    clean: false,
    protocolVersion: 4,
    reconnectPeriod: 1_000,
    connectTimeout: 10_000,
    keepalive: 30,
    reconnectOnConnackError: true,
    // Done at every connect, so that a refusal is noticed.
    resubscribe: false,
    queueQoSZero: false,
    ...(username === undefined ? {} : { username }),
    ...(password === undefined ? {} : { password }),
    ...(ca === undefined ? {} : { ca }),
  };
}
