import { readFileSync } from 'node:fs';
import type { Command } from 'commander';
import type { InfluxSettings } from '../../collector/index.ts';
import { StationError } from './errors.ts';

/** Options that say where an InfluxDB is, as commander hands them over. */
export interface InfluxOptions {
  influxUrl?: string;
  influxOrg?: string;
  influxBucket?: string;
  influxMinuteBucket?: string;
  influxHourBucket?: string;
  influxTokenFile?: string;
  influxWriteOnly?: boolean;
}

/**
 * Where the InfluxDB is, from options and `CLAMPLINE_INFLUX_*` variables; options win. Null when no address is given.
 * The token comes from a file or the environment only: what stands on a command line everybody on the machine can
 * read. Throws StationError `BAD_SETTING`.
 */
export function readInfluxSettings(
  options: InfluxOptions,
  environment: Record<string, string | undefined>,
): InfluxSettings | null {
  const given = (option: string | undefined, variable: string) =>
    option ?? environment[`CLAMPLINE_INFLUX_${variable}`];
  const url = given(options.influxUrl, 'URL');
  if (url === undefined) return null;
  const needed = (value: string | undefined, name: string): string => {
    if (value !== undefined && value !== '') return value;
    throw new StationError('BAD_SETTING', `an InfluxDB at ${url} needs ${name}`);
  };
  const minuteBucket = given(options.influxMinuteBucket, 'MINUTE_BUCKET');
  const hourBucket = given(options.influxHourBucket, 'HOUR_BUCKET');
  return {
    url,
    org: needed(given(options.influxOrg, 'ORG'), '--influx-org'),
    bucket: needed(given(options.influxBucket, 'BUCKET'), '--influx-bucket'),
    ...(minuteBucket === undefined ? {} : { minuteBucket }),
    ...(hourBucket === undefined ? {} : { hourBucket }),
    ...(options.influxWriteOnly === true || environment['CLAMPLINE_INFLUX_WRITE_ONLY'] === '1'
      ? { writeOnly: true }
      : {}),
    token: needed(
      tokenFrom(given(options.influxTokenFile, 'TOKEN_FILE')) ?? environment['CLAMPLINE_INFLUX_TOKEN'],
      'a token: --influx-token-file or CLAMPLINE_INFLUX_TOKEN',
    ),
  };
}

function tokenFrom(file: string | undefined): string | undefined {
  if (file === undefined) return undefined;
  try {
    return readFileSync(file, 'utf8').trim();
  } catch (error) {
    throw new StationError('BAD_SETTING', `the token file cannot be read: ${(error as Error).message}`);
  }
}

/** Adds the options that `readInfluxSettings` reads. */
export function withInflux(command: Command): Command {
  return command
    .option('--influx-url <url>', 'address of an InfluxDB 2 that readings go to')
    .option('--influx-org <name>', 'its organization')
    .option('--influx-bucket <name>', 'bucket of the readings')
    .option('--influx-minute-bucket <name>', 'bucket of the minutes, if they have their own')
    .option('--influx-hour-bucket <name>', 'bucket of the hours, if they have their own')
    .option('--influx-token-file <file>', 'file with the token (or CLAMPLINE_INFLUX_TOKEN)');
}
