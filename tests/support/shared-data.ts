import { existsSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const shared = join(dirname(fileURLToPath(import.meta.url)), '../../../shared');

/** Path of a file of the recordings beside the repository, which are not part of it. */
export function sharedPath(...names: string[]): string {
  return join(shared, ...names);
}

export function sharedJson<T>(...names: string[]): T | null {
  const path = sharedPath(...names);
  return existsSync(path) ? (JSON.parse(readFileSync(path, 'utf8')) as T) : null;
}

export const SKIPPED = 'skipped: open data not present';
