import { createWriteStream, existsSync } from 'node:fs';
import { rename, rm } from 'node:fs/promises';
import { resolve } from 'node:path';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { Command, Option } from 'commander';
import { exchange, type LevelName, sqliteHistorySource } from '../../../collector/index.ts';
import { openRecordStore } from '../../server/index.ts';
import { StationError } from '../errors.ts';
import { openMountLookup } from '../mount-lookup.ts';
import { progressBar } from '../progress-bar.ts';
import { dataPaths, readSettings } from '../settings.ts';
import { type ArchiveEntry, writeArchive } from './asset-archive.ts';
import { MANIFEST, manifestOf, SPECTRA } from './asset-manifest.ts';
import { findAsset, partsOf, placeNames, type Span } from './place-names.ts';
import { runRecordings } from './run-recordings.ts';

interface SpanOptions {
  data?: string;
  site?: string;
  from?: string;
  to?: string;
  force?: boolean;
}

interface AssetOptions extends SpanOptions {
  recordings: boolean;
}

interface ReadingsOptions extends SpanOptions {
  format: exchange.ExportFormat;
  level: LevelName;
  asset?: string;
  location?: string;
  out?: string;
}

const LEVELS: readonly LevelName[] = ['second', 'minute', 'hour'];

/** `export`: what was measured, for other programs or another station. The station may run meanwhile. */
export function exportCommand(): Command {
  const command = new Command('export').description(
    'give out what was measured; the station may go on running',
  );
  const withSpan = (sub: Command) =>
    sub
      .option('--from <time>', 'first moment, e.g. 2026-05-01 or 2026-05-01T08:00Z (default: the oldest)')
      .option('--to <time>', 'moment behind the last (default: the newest)')
      .option('--data <folder>', "the station's data folder (default: ./data)")
      .option('--site <name>', 'name of the site (default: workshop)')
      .option('--force', 'overwrite the file if it is there');
  command.addCommand(
    withSpan(new Command('readings'))
      .description('readings as CSV or as line protocol for InfluxDB (times in seconds)')
      .addOption(new Option('--format <format>', 'how to write them').choices(['csv', 'line']).default('csv'))
      .addOption(
        new Option('--level <level>', 'single readings, or those of a minute or hour together')
          .choices(LEVELS)
          .default('second'),
      )
      .option('--asset <name or number>', 'of one asset only')
      .option('--location <name or number>', 'of one location only')
      .option('--out <file>', 'where to write them (default: standard output)')
      .action(exportReadings),
  );
  command.addCommand(
    withSpan(new Command('asset'))
      .description(
        'everything of one asset in one archive, for clampline import: readings, runs with their samples, findings, ' +
          'checks of its sensors, repairs and plans, with the names of who entered them',
      )
      .argument('<asset>', 'its name or number')
      .argument('<file.zip>', 'where to write it')
      .option('--no-recordings', 'leave out the raw samples of runs, most of the size')
      .action(exportAsset),
  );
  return command;
}

async function exportReadings(options: ReadingsOptions): Promise<void> {
  const { out, format, level } = options;
  checkFree(out, options.force);
  const station = openStation(options);
  const bar = progressBar();
  try {
    const { source, records, span } = station;
    const wanted = {
      ...(options.asset === undefined ? {} : { asset: options.asset }),
      ...(options.location === undefined ? {} : { location: options.location }),
    };
    const parts = partsOf(records, await source.sensors(), wanted, span);
    const total = await exchange.countRows(source, parts, level);
    let rows = 0;
    const text = exchange.exportReadings(source, parts, {
      ...station.context,
      format,
      level,
      onRows(done) {
        rows = done;
        bar.show(Math.min(1, done / Math.max(1, total)), `${done.toLocaleString('en')} ${level}s`);
      },
    });
    if (out === undefined) await toStandardOutput(text);
    else await toFile(text, out);
    bar.clear();
    console.error(`${rows.toLocaleString('en')} ${level}s${out === undefined ? '' : ` in ${out}`}`);
  } finally {
    bar.clear();
    station.close();
  }
}

async function exportAsset(asset: string, file: string, options: AssetOptions): Promise<void> {
  checkFree(file, options.force);
  const station = openStation(options);
  const bar = progressBar();
  try {
    const { records } = station;
    const assetId = findAsset(records, asset);
    const parts = partsOf(records, await station.source.sensors(), { asset: String(assetId) }, station.span);
    const totals = await Promise.all(LEVELS.map((level) => exchange.countRows(station.source, parts, level)));
    const total = totals.reduce((sum, rows) => sum + rows, 0);
    const done: Record<string, number> = {};
    const told = (what: string, count: number) => {
      done[what] = count;
      const rows = LEVELS.reduce((sum, level) => sum + (done[`${level}s`] ?? 0), 0);
      bar.show(Math.min(1, rows / Math.max(1, total)), `${what}: ${count.toLocaleString('en')}`);
    };
    const atMs = Date.now();
    await writeArchive(resolve(file), atMs, entriesOf(station, assetId, parts, options, atMs, told));
    bar.clear();
    const counts = Object.entries(done).map(([what, count]) => `${count.toLocaleString('en')} ${what}`);
    console.log(`${records.assets.asset(assetId).name}: ${counts.join(', ')} in ${file}`);
  } finally {
    bar.clear();
    station.close();
  }
}

/** What refers to something comes behind it. */
async function* entriesOf(
  { source, records, paths, site, context }: Station,
  assetId: number,
  parts: exchange.ExportPart[],
  { recordings }: AssetOptions,
  atMs: number,
  told: (what: string, count: number) => void,
): AsyncGenerator<ArchiveEntry> {
  const manifest = `${JSON.stringify(manifestOf(records, assetId, site, atMs), null, 2)}\n`;
  yield { name: MANIFEST, pieces: () => [manifest] };
  const locationIds = records.assets.locations(assetId).map(({ id }) => id);
  for (const table of records.carried.tables) {
    yield {
      name: `records/${table}.jsonl`,
      pieces: () => lines(records.carried.rows(table, assetId, locationIds)),
    };
  }
  if (recordings) {
    let [count, bytes] = [0, 0];
    const deps = {
      records,
      journalDir: paths.journal,
      recordingsDir: paths.recordings,
      assetId,
      locationIds,
    };
    const onRecording = (more: number) => {
      bytes += more;
      told('bytes of samples', bytes);
    };
    for await (const entry of runRecordings({ ...deps, onRecording })) {
      if (entry.name.endsWith('.wav')) told('recordings', ++count);
      yield entry;
    }
  }
  for (const level of LEVELS) {
    const onRows = (rows: number) => told(`${level}s`, rows);
    onRows(0);
    const pieces = () => exchange.exportReadings(source, parts, { ...context, format: 'csv', level, onRows });
    yield { name: `readings/${level}s.csv`, pieces };
  }
  const spectra = () =>
    counted(exchange.exportSpectra(paths.readings, parts), (rows) => told('spectra', rows));
  yield { name: SPECTRA, pieces: () => lines(spectra()) };
}

function* counted<T>(rows: Iterable<T>, onRows: (rows: number) => void): Generator<T> {
  let count = 0;
  for (const row of rows) {
    onRows(++count);
    yield row;
  }
}

function* lines(rows: Iterable<object>): Generator<string> {
  for (const row of rows) yield `${JSON.stringify(row)}\n`;
}

type Station = ReturnType<typeof openStation>;

function openStation(options: SpanOptions) {
  const { dataDir, site } = readSettings(options, process.env);
  const paths = dataPaths(dataDir);
  const span: Span = {
    fromMs: timeOf(options.from, '--from') ?? 0,
    toMs: timeOf(options.to, '--to') ?? Date.now() + 86_400_000,
  };
  if (span.fromMs >= span.toMs) throw new StationError('BAD_SETTING', '--from does not lie before --to');
  const source = sqliteHistorySource(paths.readings);
  if (source === null || !existsSync(paths.records)) {
    source?.close();
    throw new StationError('DATA_FOLDER', `'${dataDir}' holds no station`, 'Name its folder with --data.');
  }
  const records = openRecordStore(paths.records, { readOnly: true });
  const mounts = openMountLookup(paths.records);
  return {
    source,
    records,
    span,
    site,
    paths,
    context: { site, placeOf: placeNames(records), mountOf: mounts.find },
    close() {
      source.close();
      mounts.close();
      records.close();
    },
  };
}

function timeOf(text: string | undefined, option: string): number | null {
  if (text === undefined) return null;
  const ms = Date.parse(text);
  if (Number.isFinite(ms)) return ms;
  throw new StationError('BAD_SETTING', `${option} '${text}' is no time`, 'Write it as 2026-05-01T08:00Z.');
}

function checkFree(file: string | undefined, force: boolean | undefined): void {
  if (file === undefined || force === true || !existsSync(file)) return;
  throw new StationError('BAD_SETTING', `'${file}' is there already`, 'Choose another name, or add --force.');
}

/** The file appears when it is whole. */
async function toFile(text: AsyncIterable<string>, file: string): Promise<void> {
  const partial = `${file}.${process.pid}.partial`;
  try {
    await pipeline(Readable.from(text), createWriteStream(partial, { flush: true }));
    await rename(partial, file);
  } finally {
    await rm(partial, { force: true });
  }
}

async function toStandardOutput(text: AsyncIterable<string>): Promise<void> {
  try {
    await pipeline(Readable.from(text), process.stdout, { end: false });
  } catch (error) {
    // Whoever reads has enough, as `head` does.
    if ((error as NodeJS.ErrnoException).code !== 'EPIPE') throw error;
  }
}
