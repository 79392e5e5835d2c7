import { CollectorError } from '../../errors.ts';
import type { LevelName } from './layout.ts';

/** Where an InfluxDB 2 (or what speaks its interfaces) is, and what of it may be used. */
export interface InfluxSettings {
  url: string;
  /** Token that may read and write the buckets. Kept out of logs and messages. */
  token: string;
  org: string;
  /** Bucket of the seconds; of minutes and hours too, unless they have their own. */
  bucket: string;
  /** Buckets of their own let each level have its own retention in the database. */
  minuteBucket?: string;
  hourBucket?: string;
  /**
   * Days after which the station deletes its own seconds, minutes and hours there. Not needed where each level has a
   * bucket of its own, whose retention the database keeps by itself. Default: nothing is deleted.
   */
  keepDays?: Partial<Record<LevelName, number>>;
  /** How long one request may take. Default 10 s. */
  timeoutMs?: number;
  /**
   * The server takes what is written to an InfluxDB but knows no Flux (VictoriaMetrics, an InfluxDB 1): what is
   * asked, the station's own file answers. Default false.
   */
  writeOnly?: boolean;
  /** Path of the write interface, for a server that only has version 1's: `/write?db=NAME`. */
  writePath?: string;
}

export type CheckedInflux = Required<Omit<InfluxSettings, 'writePath'>> & { writePath: string | null };

/** Defaults filled in and every value checked; throws CollectorError COLLECTOR_BAD_SETTING. */
export function checkInflux(settings: InfluxSettings): CheckedInflux {
  const checked: CheckedInflux = {
    url: settings.url,
    token: settings.token,
    org: settings.org,
    bucket: settings.bucket,
    minuteBucket: settings.minuteBucket ?? settings.bucket,
    hourBucket: settings.hourBucket ?? settings.bucket,
    keepDays: settings.keepDays ?? {},
    timeoutMs: settings.timeoutMs ?? 10_000,
    writeOnly: settings.writeOnly ?? false,
    writePath: settings.writePath ?? null,
  };
  const bad = (problem: string) => new CollectorError('COLLECTOR_BAD_SETTING', problem);
  if (!URL.canParse(checked.url) || !/^https?:$/.test(new URL(checked.url).protocol)) {
    throw bad(`InfluxDB address "${checked.url}" does not begin with http:// or https://`);
  }
  for (const name of ['token', 'org', 'bucket', 'minuteBucket', 'hourBucket'] as const) {
    if (checked[name] === '' || /[\r\n]/.test(checked[name]))
      throw bad(`InfluxDB ${name} is empty or has a line break`);
  }
  for (const [level, days] of Object.entries(checked.keepDays)) {
    if (!(days >= 1)) throw bad(`InfluxDB keepDays.${level} ${days} is not 1 or more`);
  }
  if (!(checked.timeoutMs >= 100)) throw bad(`InfluxDB timeoutMs ${checked.timeoutMs} is not 100 or more`);
  return checked;
}
