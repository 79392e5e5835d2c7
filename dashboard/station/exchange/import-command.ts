import { createReadStream } from 'node:fs';
import { open, stat } from 'node:fs/promises';
import { createInterface } from 'node:readline';
import { Command } from 'commander';
import { exchange } from '../../../collector/index.ts';
import { takeDataFolder } from '../data-folder.ts';
import { StationError } from '../errors.ts';
import { progressBar } from '../progress-bar.ts';
import { dataPaths, readSettings } from '../settings.ts';
import { importAsset } from './import-asset.ts';

/** `import`: takes in what `export` gave out, of this station or another. The station must be stopped. */
export function importCommand(): Command {
  return new Command('import')
    .description('take in what export has written: readings or an asset; the station must be stopped')
    .argument('<file>', 'CSV, line protocol, or the archive of an asset')
    .option('--data <folder>', "the station's data folder (default: ./data)")
    .action(async (file: string, options: { data?: string }) => {
      const { dataDir } = readSettings(options, process.env);
      const kind = await kindOf(file);
      const releases: (() => void)[] = [];
      try {
        for (const part of ['station', 'collector', 'dashboard'])
          releases.push(takeDataFolder(dataDir, part));
        if (kind === 'archive') await importAsset(file, dataDir, report);
        else await importText(file, kind, dataDir);
      } finally {
        for (const release of releases) release();
      }
    });
}

/** What a file is, by its first bytes; its name may be anything. */
async function kindOf(file: string): Promise<'archive' | 'csv' | 'line'> {
  const head = Buffer.alloc(64);
  try {
    const handle = await open(file);
    await handle.read(head, 0, head.length, 0);
    await handle.close();
  } catch (error) {
    throw new StationError('BAD_SETTING', (error as Error).message, 'Name a file that can be read.');
  }
  const text = head.toString('utf8').replace(/^\uFEFF/, '');
  if (text.startsWith('PK')) return 'archive';
  if (text.startsWith('time,')) return 'csv';
  if (/^(#|reading_1[smh],)/.test(text)) return 'line';
  throw new StationError('ARCHIVE_FILE', `'${file}' is nothing that export has written`);
}

async function importText(file: string, kind: 'csv' | 'line', dataDir: string): Promise<void> {
  const { size } = await stat(file);
  const bar = progressBar();
  const stream = createReadStream(file);
  let bytes = 0;
  stream.on('data', (chunk) => {
    bytes += chunk.length;
    bar.show(bytes / size, 'reading');
  });
  try {
    const parsed =
      kind === 'csv'
        ? exchange.parseCsv(stream)
        : exchange.parseLines(createInterface({ input: stream, crlfDelay: Number.POSITIVE_INFINITY }));
    const counts = await exchange.importReadings(dataPaths(dataDir).readings, parsed);
    bar.clear();
    report(counts);
  } finally {
    bar.clear();
  }
}

function report(counts: exchange.ImportCounts): void {
  for (const [level, { read, fresh }] of Object.entries(counts)) {
    if (read > 0) console.log(`${number(read)} ${level}s read, ${number(fresh)} of them new`);
  }
}

const number = (count: number) => count.toLocaleString('en');
