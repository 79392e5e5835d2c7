import { accessSync, constants, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import Database from 'better-sqlite3';
import { StationError } from './errors.ts';

/**
 * Makes the data folder if it is missing and takes it for this process: two stations writing one journal would
 * ruin it. The lock is the operating system's own, held through an open SQLite transaction, so it falls with the
 * process however that ends. Returns the release. Throws `DATA_FOLDER` or `STATION_RUNS`.
 */
export function takeDataFolder(folder: string, part: string): () => void {
  try {
    mkdirSync(folder, { recursive: true, mode: 0o700 });
    accessSync(folder, constants.W_OK);
  } catch (error) {
    throw new StationError(
      'DATA_FOLDER',
      `data folder '${folder}' cannot be used: ${(error as Error).message}`,
    );
  }
  let lock: Database.Database | undefined;
  try {
    lock = new Database(join(folder, `${part}.lock`), { timeout: 0 });
    lock.exec('BEGIN EXCLUSIVE');
  } catch (error) {
    lock?.close();
    if ((error as { code?: string }).code === 'SQLITE_BUSY') {
      throw new StationError('STATION_RUNS', `another ${part} is running on data folder '${folder}'`);
    }
    throw new StationError(
      'DATA_FOLDER',
      `data folder '${folder}' cannot be used: ${(error as Error).message}`,
    );
  }
  return () => lock.close();
}

const LOOK_EVERY_MS = 200;

/**
 * As `takeDataFolder`, but waits while another process has the folder: null when `stop` settles first. The system gives
 * the lock free the moment its holder ends, however that ends, so nobody has to decide whether it is dead.
 */
export async function waitForDataFolder(
  folder: string,
  part: string,
  stop: Promise<unknown>,
): Promise<(() => void) | null> {
  let stopped = false;
  void stop.then(() => {
    stopped = true;
  });
  while (!stopped) {
    try {
      return takeDataFolder(folder, part);
    } catch (error) {
      if (!(error instanceof StationError) || error.code !== 'STATION_RUNS') throw error;
      await Promise.race([sleep(LOOK_EVERY_MS), stop]);
    }
  }
  return null;
}
