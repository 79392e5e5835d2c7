import { isAbsolute } from 'node:path';
import { SITE_PATTERN } from '../firmware-protocol/index.ts';
import { CollectorError } from './errors.ts';
import { BAND_NAMES, type BandName } from './measure/band.ts';
import type { StoreChoice } from './store/open-reading-store.ts';
import { DEFAULT_RETENTION, type Retention } from './store/retention.ts';

export interface MqttAccess {
  /** `mqtt://host:port` or `mqtts://host:port`. */
  url: string;
  username: string;
  password: string;
  /** Certificate of the authority to trust, PEM, when it is not one of the system's. */
  ca?: string;
}

export interface CollectorConfig {
  site: string;
  /** Folder of the journal; waited for while it does not exist. */
  journalDir: string;
  /** The SQLite file of readings; its folder must exist. */
  readingsFile: string;
  /** Service account to publish with; null: readings are stored only. */
  mqtt: MqttAccess | null;
  /** Velocity band of all sensors. Default 10-1000 Hz. */
  band?: BandName;
  /** Nodes kept in memory at once. Default 1024. */
  maxNodes?: number;
  retention?: Partial<Retention>;
  /** Where readings end. Default: in the file. */
  store?: StoreChoice;
}

export type CheckedConfig = Required<Omit<CollectorConfig, 'retention'>> & { retention: Retention };

/** Defaults filled in and every value checked; throws CollectorError COLLECTOR_BAD_SETTING. */
export function checkConfig(config: CollectorConfig): CheckedConfig {
  const checked: CheckedConfig = {
    site: config.site,
    journalDir: config.journalDir,
    readingsFile: config.readingsFile,
    mqtt: config.mqtt,
    band: config.band ?? '10-1000',
    maxNodes: config.maxNodes ?? 1024,
    retention: { ...DEFAULT_RETENTION, ...config.retention },
    store: config.store ?? { kind: 'sqlite' },
  };
  must(SITE_PATTERN.test(checked.site), `site "${checked.site}" is not 1 to 31 of a-z, 0-9 and -`);
  must(isAbsolute(checked.journalDir), `journalDir "${checked.journalDir}" is not an absolute path`);
  must(isAbsolute(checked.readingsFile), `readingsFile "${checked.readingsFile}" is not an absolute path`);
  must(BAND_NAMES.includes(checked.band), `band "${checked.band}" is none of ${BAND_NAMES.join(', ')}`);
  must(
    Number.isInteger(checked.maxNodes) && checked.maxNodes >= 1,
    `maxNodes ${checked.maxNodes} is not a whole number of 1 or more`,
  );
  for (const [name, limit] of Object.entries(checked.retention)) {
    must(
      limit === null || limit > 0,
      `retention.${name} ${limit} is not a number above 0, or null for no limit`,
    );
  }
  if (checked.mqtt) {
    must(
      /^mqtts?:\/\/./.test(checked.mqtt.url),
      `mqtt url "${checked.mqtt.url}" does not begin with mqtt:// or mqtts://`,
    );
  }
  return checked;
}

function must(holds: boolean, problem: string): void {
  if (!holds) throw new CollectorError('COLLECTOR_BAD_SETTING', problem);
}
