import { existsSync } from 'node:fs';
import { mkdir, rm, statfs } from 'node:fs/promises';
import { dirname } from 'node:path';
import type { Readable } from 'node:stream';
import { Value } from 'typebox/value';
import { exchange } from '../../../collector/index.ts';
import { CarriedRowError, openRecordStore, type RecordStore } from '../../server/index.ts';
import { StationError } from '../errors.ts';
import { type ProgressBar, progressBar } from '../progress-bar.ts';
import { dataPaths } from '../settings.ts';
import { damaged, jsonLinesOf, jsonOf } from './archive-text.ts';
import { readArchive } from './asset-archive.ts';
import { AssetManifest, MANIFEST, SPECTRA, type TakenAsset, takeManifest } from './asset-manifest.ts';
import { type RecordingIntake, recordingIntake } from './recording-intake.ts';

/** The most that a manifest can be; a larger one is none. */
const MANIFEST_BYTES = 16_000_000;

/** Takes an archive in: records all or none of them, then readings. Taking the same twice changes nothing. */
export async function importAsset(
  file: string,
  dataDir: string,
  report: (counts: exchange.ImportCounts) => void,
): Promise<void> {
  const paths = dataPaths(dataDir);
  const { bavail, bsize } = await statfs(dirname(paths.records));
  const free = { freeBytes: bavail * bsize };
  const records = openRecordStore(paths.records);
  const intake = recordingIntake(records, paths.recordings);
  const bar = progressBar();
  try {
    await mkdir(paths.recordings, { recursive: true });
    const tell = await records.carried.together(() => takeRecords(file, free, records, intake, bar));
    bar.clear();
    intake.settled();
    tell();
    await readArchive(file, free, (name) => {
      if (name === SPECTRA) return (content) => takeSpectra(paths.readings, shown(bar, name, content));
      if (!/^readings\/[a-z]+\.csv$/.test(name)) return null;
      return async (content) => {
        const parsed = exchange.parseCsv(shown(bar, name, content));
        const counts = await exchange.importReadings(paths.readings, parsed);
        bar.clear();
        report(counts);
      };
    });
  } catch (error) {
    await Promise.all(intake.written().map((path) => rm(path, { force: true })));
    throw error;
  } finally {
    bar.clear();
    records.close();
  }
}

async function takeRecords(
  file: string,
  free: { freeBytes: number },
  records: RecordStore,
  intake: RecordingIntake,
  bar: ProgressBar,
): Promise<() => void> {
  const none = new StationError(
    'ARCHIVE_FILE',
    `'${file}' is no archive of an asset: it does not begin with ${MANIFEST}`,
  );
  let taken: TakenAsset | null = null;
  let taking: ReturnType<RecordStore['carried']['taking']> | null = null;
  const counts = new Map<string, Counts>();
  await readArchive(file, free, (name) => {
    if (taken === null || taking === null) {
      if (name !== MANIFEST) throw none;
      return async (content) => {
        taken = takeManifest(records, await manifestIn(file, content));
        taking = records.carried.taking(taken.assetId, taken.locationIds);
      };
    }
    const [own, places] = [taking, taken.locationIds];
    const table = /^records\/([a-z_]+)\.jsonl$/.exec(name)?.[1];
    if (table !== undefined)
      return async (content) => {
        const tally: Counts = { added: 0, 'there already': 0, 'left out': 0 };
        counts.set(table.replaceAll('_', ' '), tally);
        for await (const { line, value } of jsonLinesOf(name, shown(bar, name, content)))
          tally[takeRow(own, table, value, `${name}, line ${line}`)]++;
      };
    const recording = /^recordings\/(\d+)\.(json|wav)$/.exec(name);
    if (recording === null) return null;
    const tally = counts.get('recordings') ?? { added: 0, 'there already': 0, 'left out': 0 };
    counts.set('recordings', tally);
    return recording[2] === 'json'
      ? (content) => intake.describe(name, content)
      : async (content) => void tally[await intake.take(name, shown(bar, name, content), own, places)]++;
  });
  const whole = taken as TakenAsset | null;
  if (whole === null) throw none;
  // Only what is kept is told.
  return () => {
    reportAsset(records.assets.asset(whole.assetId).name, whole);
    reportCounts(counts);
  };
}

async function takeSpectra(file: string, content: Readable): Promise<void> {
  // Without any readings there is no file, and there are no spectra either.
  if (!existsSync(file)) return void content.resume();
  async function* spectra() {
    for await (const { line, value } of jsonLinesOf(SPECTRA, content))
      yield { value, where: `${SPECTRA}, line ${line}` };
  }
  try {
    const { read, fresh } = await exchange.importSpectra(file, spectra());
    if (read > 0) console.log(`${number(read)} spectra read, ${number(fresh)} of them new`);
  } catch (error) {
    if (error instanceof TypeError) throw new StationError('ARCHIVE_FILE', error.message);
    throw error;
  }
}

const number = (count: number) => count.toLocaleString('en');

function takeRow(
  taking: ReturnType<RecordStore['carried']['taking']>,
  table: string,
  value: unknown,
  where: string,
): keyof Counts {
  try {
    return taking.take(table, value);
  } catch (error) {
    if (error instanceof CarriedRowError) throw damaged(where, `is what no station wrote: ${error.message}`);
    throw error;
  }
}

type Counts = Record<'added' | 'there already' | 'left out', number>;

async function manifestIn(file: string, content: Readable): Promise<AssetManifest> {
  const manifest = await jsonOf(MANIFEST, content, MANIFEST_BYTES);
  if (Value.Check(AssetManifest, manifest)) return manifest;
  const [first] = Value.Errors(AssetManifest, manifest);
  throw new StationError(
    'ARCHIVE_FILE',
    `'${file}' is no archive of an asset, or one of a later version: ${first?.instancePath ?? ''} ${first?.message ?? ''}`,
  );
}

/** The length of an entry is known only behind it. */
function shown(bar: ProgressBar, name: string, content: Readable): Readable {
  let bytes = 0;
  content.on('data', (chunk: Buffer) => {
    bytes += chunk.length;
    bar.show(0.5, `${name}, ${(bytes / 1e6).toFixed(0)} MB`);
  });
  return content;
}

function reportAsset(name: string, { added, contradicting }: TakenAsset): void {
  const locations = `${added.locations} locations and ${added.mounts} mounts`;
  console.log(`${name}: ${added.asset ? 'made' : 'there already'}; ${locations} added`);
  for (const { location, nodeId, sensor, fromMs } of contradicting) {
    console.log(
      `  left out: sensor ${nodeId}/${sensor} at ${location} from ${new Date(fromMs).toISOString()}, ` +
        'which this station knows elsewhere then',
    );
  }
}

function reportCounts(counts: ReadonlyMap<string, Counts>): void {
  for (const [what, { added, 'there already': known, 'left out': leftOut }] of counts) {
    if (added + known + leftOut === 0) continue;
    const older = leftOut === 0 ? '' : `, ${number(leftOut)} left out since newer ones are here`;
    console.log(`  ${what}: ${number(added)} added, ${number(known)} there already${older}`);
  }
}
