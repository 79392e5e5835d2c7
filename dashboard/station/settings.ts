import { readFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import type { InfluxSettings } from '../../collector/index.ts';
import { SITE_PATTERN } from '../../firmware-protocol/index.ts';
import { type AlertOptions, type AlertSettings, readAlertSettings } from './alert-settings.ts';
import { StationError } from './errors.ts';
import { type InfluxOptions, readInfluxSettings } from './influx-settings.ts';

/** Everything a station can be told. Every option has its default here and nowhere else. */
export interface Settings {
  dataDir: string;
  site: string;
  /** Address on which the page and MQTT listen. Loopback unless told otherwise. */
  listen: string;
  httpPort: number;
  mqttPort: number;
  /** Address under which the parts of a station that runs apart find its broker. */
  mqttUrl: string | null;
  tls: TlsSetting;
  /** Listening beyond this machine without encryption has been allowed. */
  plain: boolean;
  journalMaxBytes: number;
  journalMaxAgeDays: number;
  /** Whoever brings it may read /metrics; null: programs on this machine only. */
  metricsToken: string | null;
  /** Another broker whose nodes are taken in as well. */
  bridge: BridgeSetting | null;
  /** Room for readings on this disk; null for as much as it has. */
  readingsMaxBytes: number | null;
  /** Where readings go beyond this disk. */
  influx: InfluxSettings | null;
  /** How people are told of alerts, from `CLAMPLINE_SMTP_URL`, `_SMTP_PASSWORD`, ..., `_ALERT_PRIVATE_NETWORKS`. */
  alerts: AlertSettings;
}

export interface BridgeSetting {
  url: string;
  username?: string;
  password?: string;
  /** Certificate to trust. */
  caFile?: string;
}

export type TlsSetting =
  | { kind: 'off' }
  | { kind: 'own' }
  | { kind: 'files'; certFile: string; keyFile: string };

/** Options as commander hands them over: all text, all optional. */
export interface RawOptions extends InfluxOptions, AlertOptions {
  data?: string;
  site?: string;
  listen?: string;
  port?: string;
  mqttPort?: string;
  mqttUrl?: string;
  tls?: boolean;
  tlsCert?: string;
  tlsKey?: string;
  plain?: boolean;
  journalGib?: string;
  journalDays?: string;
  readingsGib?: string;
  metricsToken?: string;
  bridge?: string;
  bridgeUser?: string;
  bridgePassword?: string;
  bridgePasswordFile?: string;
  bridgeCa?: string;
}

const GIB = 1024 ** 3;

/** Turns options and `CLAMPLINE_*` variables into settings; options win. Throws StationError `BAD_SETTING`. */
export function readSettings(options: RawOptions, environment: Record<string, string | undefined>): Settings {
  const text = (option: string | undefined, variable: string, fallback: string) =>
    option ?? environment[`CLAMPLINE_${variable}`] ?? fallback;

  const site = text(options.site, 'SITE', 'workshop');
  if (!SITE_PATTERN.test(site)) {
    throw new StationError('BAD_SETTING', `site name '${site}' is not usable: 1 to 31 of a-z, 0-9 and '-'`);
  }
  return {
    dataDir: resolve(text(options.data, 'DATA', 'data')),
    site,
    listen: text(options.listen, 'LISTEN', '127.0.0.1'),
    httpPort: port(text(options.port, 'PORT', '8080'), '--port'),
    mqttPort: port(text(options.mqttPort, 'MQTT_PORT', '1883'), '--mqtt-port'),
    mqttUrl: options.mqttUrl ?? environment['CLAMPLINE_MQTT_URL'] ?? null,
    tls: tls(options, environment),
    plain: options.plain === true || environment['CLAMPLINE_PLAIN'] === '1',
    journalMaxBytes: positive(text(options.journalGib, 'JOURNAL_GIB', '20'), '--journal-gib') * GIB,
    journalMaxAgeDays: positive(text(options.journalDays, 'JOURNAL_DAYS', '14'), '--journal-days'),
    metricsToken: metricsToken(options.metricsToken ?? environment['CLAMPLINE_METRICS_TOKEN']),
    bridge: bridge(options, environment),
    readingsMaxBytes: room(options.readingsGib ?? environment['CLAMPLINE_READINGS_GIB']),
    influx: readInfluxSettings(options, environment),
    alerts: readAlertSettings(options, environment),
  };
}

/** One that can be guessed would be worse than none: without one, at least only this machine is answered. */
function metricsToken(token: string | undefined): string | null {
  if (token === undefined || token === '') return null;
  if (token.length >= 16) return token;
  throw new StationError('BAD_SETTING', '--metrics-token is shorter than 16 characters');
}

function room(gib: string | undefined): number | null {
  return gib === undefined || gib === '' ? null : positive(gib, '--readings-gib') * GIB;
}

function bridge(options: RawOptions, environment: Record<string, string | undefined>): BridgeSetting | null {
  const url = options.bridge ?? environment['CLAMPLINE_BRIDGE'];
  if (url === undefined || url === '') return null;
  const username = options.bridgeUser ?? environment['CLAMPLINE_BRIDGE_USER'];
  const passwordFile = options.bridgePasswordFile ?? environment['CLAMPLINE_BRIDGE_PASSWORD_FILE'];
  const given = options.bridgePassword ?? environment['CLAMPLINE_BRIDGE_PASSWORD'];
  const password = passwordFile === undefined ? given : firstLine(passwordFile);
  const caFile = options.bridgeCa ?? environment['CLAMPLINE_BRIDGE_CA'];
  return {
    url,
    ...(username === undefined ? {} : { username }),
    ...(password === undefined ? {} : { password }),
    ...(caFile === undefined ? {} : { caFile }),
  };
}

function firstLine(file: string): string {
  try {
    return readFileSync(file, 'utf8').split(/\r?\n/, 1)[0]!;
  } catch (error) {
    throw new StationError('BAD_SETTING', `--bridge-password-file: ${(error as Error).message}`);
  }
}

function port(value: string, name: string): number {
  const number = Number(value);
  if (!Number.isInteger(number) || number < 0 || number > 65535) {
    throw new StationError(
      'BAD_SETTING',
      `${name} ${value} is not a port number (0 to 65535; 0 takes any free one)`,
    );
  }
  return number;
}

function positive(value: string, name: string): number {
  const number = Number(value);
  if (!Number.isFinite(number) || number <= 0) {
    throw new StationError('BAD_SETTING', `${name} ${value} is not a number above 0`);
  }
  return number;
}

function tls(options: RawOptions, environment: Record<string, string | undefined>): TlsSetting {
  const certFile = options.tlsCert ?? environment['CLAMPLINE_TLS_CERT'];
  const keyFile = options.tlsKey ?? environment['CLAMPLINE_TLS_KEY'];
  if ((certFile === undefined) !== (keyFile === undefined)) {
    throw new StationError(
      'BAD_SETTING',
      '--tls-cert and --tls-key go together: a certificate needs its key',
    );
  }
  if (certFile !== undefined && keyFile !== undefined) return { kind: 'files', certFile, keyFile };
  return options.tls === true || environment['CLAMPLINE_TLS'] === 'own' ? { kind: 'own' } : { kind: 'off' };
}

/** Where each thing lies in the data folder. */
export function dataPaths(dataDir: string) {
  return {
    journal: join(dataDir, 'journal'),
    readings: join(dataDir, 'readings.sqlite'),
    records: join(dataDir, 'records.sqlite'),
    recordings: join(dataDir, 'recordings'),
    serviceKeys: join(dataDir, 'service-keys.json'),
    tls: join(dataDir, 'tls'),
  };
}
