import { existsSync } from 'node:fs';
import { mkdir, mkdtemp, rename, rm } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { Command } from 'commander';
import { damageOf } from '../../collector/index.ts';
import { unpackBackup, writeBackup } from './backup-archive.ts';
import { takeDataFolder } from './data-folder.ts';
import { StationError } from './errors.ts';
import { progressBar } from './progress-bar.ts';
import { dataPaths } from './settings.ts';

/** Every part that may write in a data folder, by the name it locks it with. */
const PARTS = ['station', 'broker', 'collector', 'dashboard'];
const SIDE_FILES = ['', '-wal', '-shm', '-in-use'];

interface FolderOption {
  data?: string;
}

const folderOf = ({ data }: FolderOption) => resolve(data ?? process.env['CLAMPLINE_DATA'] ?? 'data');

function databasesOf(dataDir: string) {
  const { readings, records } = dataPaths(dataDir);
  return [
    { name: 'readings.sqlite', path: readings },
    { name: 'records.sqlite', path: records },
  ];
}

/** `backup FILE`: both databases of a station in one archive; the station may run meanwhile. */
export function backupCommand(): Command {
  return new Command('backup')
    .description('save readings and records in one file; the station may go on running')
    .argument('<file.zip>', 'where to write it')
    .option('--data <folder>', "the station's data folder (default: ./data)")
    .option('--force', 'overwrite the file if it is there')
    .action(async (file: string, options: FolderOption & { force?: boolean }) => {
      const dataDir = folderOf(options);
      if (existsSync(file) && options.force !== true) {
        throw new StationError(
          'BAD_SETTING',
          `'${file}' is there already`,
          'Choose another name, or add --force.',
        );
      }
      const databases = databasesOf(dataDir).filter(({ path }) => existsSync(path));
      if (databases.length === 0) {
        throw new StationError(
          'DATA_FOLDER',
          `'${dataDir}' holds no station`,
          'Name its folder with --data.',
        );
      }
      const bar = progressBar();
      try {
        const { files } = await writeBackup(resolve(file), databases, new Date(), bar.show);
        bar.clear();
        for (const { name, bytes } of files) console.log(`${name.padEnd(16)} ${megabytes(bytes)}, sound`);
        console.log(`saved in ${file}`);
      } finally {
        bar.clear();
      }
    });
}

/** `restore FILE`: puts the databases of a backup in place of those there, which are kept aside. */
export function restoreCommand(): Command {
  return new Command('restore')
    .description('put readings and records of a backup in place; the station must be stopped')
    .argument('<file.zip>', 'a file that backup has written')
    .option('--data <folder>', "the station's data folder (default: ./data)")
    .action(async (file: string, options: FolderOption) => {
      const { aside, madeAt } = await restore(resolve(file), folderOf(options));
      console.log(`restored what was saved on ${madeAt}`);
      if (aside !== null) console.log(`what was there before is in ${aside}`);
      console.log('The station catches up with what its journal still holds when it is started.');
    });
}

async function restore(file: string, dataDir: string): Promise<{ aside: string | null; madeAt: string }> {
  const releases: (() => void)[] = [];
  const bar = progressBar();
  let folder: string | undefined;
  try {
    for (const part of PARTS) releases.push(takeDataFolder(dataDir, part));
    folder = await mkdtemp(join(dataDir, '.restore-'));
    const databases = databasesOf(dataDir);
    const names = databases.map(({ name }) => name);
    const { files, madeAt } = await unpackBackup(file, folder, names, bar.show);
    const there = databases.filter(({ name }) => files.some((one) => one.name === name));
    if (there.length === 0) throw new StationError('BACKUP_FILE', `'${file}' holds nothing of a station`);
    for (const { name } of there) {
      const damage = damageOf(join(folder, name), 'integrity_check');
      if (damage.length > 0)
        throw new StationError('BACKUP_FILE', `${name} in '${file}' is damaged: ${damage[0]}`);
    }
    const aside = await setAside(there, dataDir);
    for (const { name, path } of there) await rename(join(folder, name), path);
    return { aside, madeAt };
  } finally {
    bar.clear();
    if (folder !== undefined) await rm(folder, { recursive: true, force: true });
    for (const release of releases) release();
  }
}

/** Nothing is deleted: a restore by mistake can be undone by hand. */
async function setAside(
  databases: readonly { path: string; name: string }[],
  dataDir: string,
): Promise<string | null> {
  const present = databases.flatMap(({ path, name }) =>
    SIDE_FILES.filter((suffix) => existsSync(path + suffix)).map(
      (suffix) => [path + suffix, name + suffix] as const,
    ),
  );
  if (present.length === 0) return null;
  const aside = join(dataDir, `before-restore-${new Date().toISOString().replace(/[:.]/g, '-')}`);
  await mkdir(aside, { mode: 0o700 });
  for (const [path, name] of present) await rename(path, join(aside, name));
  return aside;
}

function megabytes(bytes: number): string {
  return `${(bytes / 1e6).toFixed(1)} MB`;
}
