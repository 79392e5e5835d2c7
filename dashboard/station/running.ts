import { once } from 'node:events';
import { isIP } from 'node:net';
import { networkInterfaces } from 'node:os';
import type { RecordStore } from '../server/index.ts';
import { StationError } from './errors.ts';
import type { BrokerAddress } from './parts.ts';
import type { Settings } from './settings.ts';
import type { TlsFiles } from './tls.ts';

/** Beyond this machine passwords and readings cross a network: in the clear only when told so. */
export function checkListen(settings: Settings): void {
  const local =
    settings.listen === 'localhost' || settings.listen === '::1' || settings.listen.startsWith('127.');
  if (!local && settings.tls.kind === 'off' && !settings.plain) {
    throw new StationError('PLAIN_LISTEN', `--listen ${settings.listen} would send passwords in the clear`);
  }
}

/** Where the station's own parts find the broker: the address given, else this machine. */
export function brokerAddress(settings: Settings, port: number, tls: TlsFiles | null): BrokerAddress {
  const wildcard = settings.listen === '0.0.0.0' || settings.listen === '::';
  const host = wildcard ? '127.0.0.1' : settings.listen;
  const name = isIP(host) === 6 ? `[${host}]` : host;
  return {
    mqttUrl: settings.mqttUrl ?? `${tls === null ? 'mqtt' : 'mqtts'}://${name}:${port}`,
    ...(tls === null ? {} : { ca: tls.cert }),
  };
}

/** The one-time link to make the first person; null once somebody exists. */
export function setupLink(records: RecordStore, pageUrl: string): string | null {
  const token = records.setup.issueToken();
  return token === null ? null : `${pageUrl}/setup#${token}`;
}

/** Addresses under which other machines reach a page that listens on all of them. */
export function networkPlaces(settings: Settings, pageUrl: string): Record<string, string> {
  if (settings.listen !== '0.0.0.0' && settings.listen !== '::') return {};
  const addresses = Object.values(networkInterfaces())
    .flatMap((list) => list ?? [])
    .filter(({ family, internal }) => family === 'IPv4' && !internal);
  const { protocol, port } = new URL(pageUrl);
  return Object.fromEntries(
    addresses.map(({ address }, index) => [
      index === 0 ? 'phone' : `phone${index + 1}`,
      `${protocol}//${address}:${port}`,
    ]),
  );
}

/** Says on standard output where everything is, ending with `ready` alone on a line. */
export function announce(places: Record<string, string | null>): void {
  const lines = Object.entries(places)
    .filter(([, place]) => place !== null)
    .map(
      ([name, place]) =>
        `  ${name.padEnd(6)} ${place}${name === 'setup' ? '   (works once: makes the first person)' : ''}`,
    );
  console.log(['Clampline is running. Stop it with Ctrl-C.', ...lines, 'ready'].join('\n'));
}

/** Settles at Ctrl-C or when the system asks the process to end. */
export async function untilToldToStop(): Promise<void> {
  await Promise.race([once(process, 'SIGINT'), once(process, 'SIGTERM')]);
}
