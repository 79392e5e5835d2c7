import { join, resolve } from 'node:path';
import { Command, Option } from 'commander';
import {
  compareHistory,
  copyHistory,
  type Difference,
  type InfluxSettings,
  influxHistory,
  sqliteHistorySource,
  sqliteHistoryTarget,
} from '../../collector/index.ts';
import { openCheckpoint } from './copy-history-checkpoint.ts';
import { takeDataFolder } from './data-folder.ts';
import { StationError } from './errors.ts';
import { type InfluxOptions, readInfluxSettings, withInflux } from './influx-settings.ts';
import { openMountLookup } from './mount-lookup.ts';
import { progressBar } from './progress-bar.ts';
import { dataPaths, readSettings } from './settings.ts';

interface CopyOptions extends InfluxOptions {
  to: 'influx' | 'sqlite';
  data?: string;
  site?: string;
}

/** Differing days that are listed by themselves. */
const LISTED = 20;

/** `copy-history`: a station's readings, minutes and hours from its file to an InfluxDB, or back. */
export function copyHistoryCommand(): Command {
  return withInflux(
    new Command('copy-history')
      .description("copy a station's history to an InfluxDB or back; goes on where it was broken off")
      .addOption(
        new Option('--to <store>', 'where to copy to').choices(['influx', 'sqlite']).makeOptionMandatory(),
      )
      .option('--data <folder>', "the station's data folder (default: ./data)")
      .option('--site <name>', 'name of the site (default: workshop)'),
  ).action(async (options: CopyOptions) => {
    const { dataDir, site } = readSettings(options, process.env);
    const influx = readInfluxSettings(options, process.env);
    if (influx === null) throw new StationError('BAD_SETTING', 'copy-history needs --influx-url');
    await copy(options.to, dataDir, site, influx);
  });
}

async function copy(
  to: 'influx' | 'sqlite',
  dataDir: string,
  site: string,
  influx: InfluxSettings,
): Promise<void> {
  const { readings, records } = dataPaths(dataDir);
  const closers: (() => void)[] = [];
  const bar = progressBar();
  try {
    const mounts = openMountLookup(records);
    closers.push(mounts.close);
    const database = influxHistory(influx, site, mounts.find);
    const file = to === 'influx' ? openSource(readings) : openTarget(readings, dataDir, closers);
    closers.push(file.close);
    const [source, target] = 'put' in file ? ([database, file] as const) : ([file, database] as const);
    const route = {
      to,
      readings: resolve(readings),
      url: influx.url,
      org: influx.org,
      bucket: influx.bucket,
      site,
    };
    const checkpoint = openCheckpoint(join(dataDir, `copy-history-to-${to}.json`), route);
    if (checkpoint.resumed) console.log('going on where the last copy was broken off');
    const untilS = to === 'influx' && runs(dataDir) ? settledUntil(file) : Number.POSITIVE_INFINITY;
    await copyHistory(source, target, {
      untilS,
      checkpoint: checkpoint.checkpoint,
      save: checkpoint.save,
      onProgress({ doneRows, totalRows, level, sensor }) {
        const text = `${count(doneRows)} of ${count(totalRows)} rows, ${level}s of ${sensor.nodeId}/${sensor.sensor}`;
        bar.show(totalRows === 0 ? 1 : doneRows / totalRows, text);
      },
    });
    bar.show(1, 'comparing');
    const differences = await compareHistory(source, target, untilS);
    bar.clear();
    // Whatever differs, the next run looks at everything again.
    checkpoint.remove();
    report(differences, await source.sensors());
  } finally {
    bar.clear();
    for (const close of closers.reverse()) close();
  }
}

function openSource(readings: string) {
  const source = sqliteHistorySource(readings);
  if (source === null) {
    throw new StationError(
      'DATA_FOLDER',
      `there are no readings in '${readings}'`,
      'Name the folder with --data.',
    );
  }
  return source;
}

function openTarget(readings: string, dataDir: string, closers: (() => void)[]) {
  for (const part of ['station', 'collector']) closers.push(takeDataFolder(dataDir, part));
  return sqliteHistoryTarget(readings);
}

function runs(dataDir: string): boolean {
  try {
    for (const part of ['station', 'collector']) takeDataFolder(dataDir, part)();
    return false;
  } catch (error) {
    if (error instanceof StationError && error.code === 'STATION_RUNS') return true;
    throw error;
  }
}

/** Of a running station the newest minutes are still being made: they would count differently at the end. */
function settledUntil({ newestSecond }: { newestSecond(): number | null }): number {
  const newest = newestSecond() ?? 0;
  return Math.floor(newest / 60 - 2) * 60;
}

function report(differences: readonly Difference[], sensors: readonly unknown[]): void {
  if (differences.length === 0) {
    console.log(`copied; every day of all ${sensors.length} sensors counts the same on both sides`);
    return;
  }
  for (const { level, sensor, day, from, to } of differences.slice(0, LISTED)) {
    console.log(
      `${day}  ${sensor.nodeId}/${sensor.sensor}  ${level}s: ${count(from)} there, ${count(to)} copied`,
    );
  }
  throw new StationError('COPY_DIFFERS', `${differences.length} days do not count the same on both sides`);
}

const count = (rows: number) => rows.toLocaleString('en');
