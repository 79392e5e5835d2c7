import { existsSync } from 'node:fs';
import { rename, rm, writeFile } from 'node:fs/promises';
import { extname } from 'node:path';
import { Command } from 'commander';
import { explained, openRecordStore, openStationReporter, printPdf } from '../server/index.ts';
import { StationError } from './errors.ts';
import { findAsset } from './exchange/place-names.ts';
import { dataPaths, readSettings } from './settings.ts';

interface ReportCommandOptions {
  data?: string;
  site?: string;
  asset?: boolean;
  withNamesAndTimes?: boolean;
  force?: boolean;
}

/** `report`: one file to pass on, made from the data folder by reading alone; the station may run meanwhile. */
export function reportCommand(): Command {
  return new Command('report')
    .description('write the report of a run or an asset from the data folder; the station may go on running')
    .argument('<run or asset>', 'number of a run, or name of an asset: its newest run that said something')
    .argument('<file>', 'where to write it: .html, or .pdf where Chromium or Chrome is installed')
    .option('--asset', 'the first word names an asset, even if it is a number')
    .option('--with-names-and-times', 'names, notes and times of day too; otherwise they are left out')
    .option('--data <folder>', "the station's data folder (default: ./data)")
    .option('--site <name>', 'name of the site, for a report with names (default: workshop)')
    .option('--force', 'overwrite the file if it is there')
    .action(writeReport);
}

async function writeReport(what: string, file: string, options: ReportCommandOptions): Promise<void> {
  const ending = extname(file).toLowerCase();
  if (ending !== '.html' && ending !== '.pdf')
    throw new StationError('BAD_SETTING', `'${file}' ends neither in .html nor in .pdf`, 'Name it so.');
  if (existsSync(file) && options.force !== true)
    throw new StationError(
      'BAD_SETTING',
      `'${file}' is there already`,
      'Choose another name, or add --force.',
    );
  const { dataDir, site } = readSettings(options, process.env);
  const paths = dataPaths(dataDir);
  if (!existsSync(paths.records))
    throw new StationError('DATA_FOLDER', `'${dataDir}' holds no station`, 'Name its folder with --data.');
  const records = openRecordStore(paths.records, { readOnly: true });
  const reporter = openStationReporter(records, {
    site,
    journalDir: paths.journal,
    recordingsDir: paths.recordings,
    readingsFile: paths.readings,
  });
  try {
    const asked = { withNames: options.withNamesAndTimes === true };
    const isRun = options.asset !== true && /^\d+$/.test(what);
    const make = isRun
      ? () => reporter.ofRun(Number(what), asked)
      : () => reporter.ofAsset(findAsset(records, what), asked);
    const bytes = await inWords(async () => (ending === '.pdf' ? printPdf(make) : Buffer.from(await make())));
    await writeWhole(file, bytes);
    console.log(`${(bytes.length / 1e6).toFixed(1)} MB in ${file}`);
  } finally {
    await reporter.close();
    records.close();
  }
}

/** What the server would answer, as an error of the command line. */
async function inWords<Made>(make: () => Promise<Made>): Promise<Made> {
  try {
    return await make();
  } catch (error) {
    const known = explained(error);
    throw known === null ? error : new StationError('STATION_REFUSED', known.message, known.remedy);
  }
}

/** For this account only, and there when it is whole. */
async function writeWhole(file: string, bytes: Buffer): Promise<void> {
  const partial = `${file}.${process.pid}.partial`;
  try {
    await writeFile(partial, bytes, { mode: 0o600 });
    await rename(partial, file);
  } catch (error) {
    throw new StationError('BAD_SETTING', (error as Error).message, 'Choose a folder that can be written.');
  } finally {
    await rm(partial, { force: true });
  }
}
