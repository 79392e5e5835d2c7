import { X509Certificate } from 'node:crypto';
import { networkInterfaces } from 'node:os';
import type { StationAddress } from '../contract/rig.ts';
import type { Settings } from './settings.ts';
import type { TlsFiles } from './tls.ts';

/** What a node must know to connect. `port` is where the broker listens, or is said to. */
export function stationAddress(settings: Settings, port: number, tls: TlsFiles | null): StationAddress {
  const told = settings.mqttUrl === null ? null : new URL(settings.mqttUrl);
  const hosts = told === null ? ownAddresses(settings.listen) : [told.hostname.replace(/^\[|\]$/g, '')];
  const isEncrypted = told === null ? tls !== null : told.protocol === 'mqtts:';
  const certificatePem = isEncrypted && tls !== null ? tls.cert : null;
  return {
    site: settings.site,
    mqtt: {
      hosts,
      port: told === null ? port : Number(told.port || (isEncrypted ? 8883 : 1883)),
      tls: isEncrypted,
      certificateSha256: certificatePem === null ? null : new X509Certificate(certificatePem).fingerprint256,
      certificatePem,
      thisComputerOnly: hosts.every(isLoopback),
    },
  };
}

/** A wildcard listens on all addresses; nodes reach those that are not the computer's own loop. */
function ownAddresses(listen: string): string[] {
  if (listen !== '0.0.0.0' && listen !== '::') return [listen];
  const found = Object.values(networkInterfaces())
    .flatMap((list) => list ?? [])
    .filter(({ family, internal }) => family === 'IPv4' && !internal)
    .map(({ address }) => address);
  return found.length > 0 ? found : ['127.0.0.1'];
}

function isLoopback(host: string): boolean {
  return host === 'localhost' || host === '::1' || host.startsWith('127.');
}
