import { readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

const fileOf = (dataDir: string) => join(dataDir, 'running.json');

/** Says in the data folder where the page is, for commands on the same computer. Returns the way to take it back. */
export function sayPage(dataDir: string, page: string): () => void {
  writeFileSync(fileOf(dataDir), JSON.stringify({ page, processId: process.pid }), { mode: 0o600 });
  return () => rmSync(fileOf(dataDir), { force: true });
}

/** Where the page of the station on this data folder is; null when none runs. */
export function runningPage(dataDir: string): string | null {
  try {
    const { page, processId } = JSON.parse(readFileSync(fileOf(dataDir), 'utf8')) as {
      page: string;
      processId: number;
    };
    return isRunning(processId) ? page : null;
  } catch {
    return null;
  }
}

/** A station that was killed leaves its note behind. */
function isRunning(processId: number): boolean {
  try {
    process.kill(processId, 0);
    return true;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM';
  }
}
