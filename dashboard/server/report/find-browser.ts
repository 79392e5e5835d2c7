import { accessSync, constants, existsSync } from 'node:fs';
import { delimiter, join } from 'node:path';

const NAMES = ['chromium', 'chromium-browser', 'google-chrome', 'google-chrome-stable'];

/** Path of `CLAMPLINE_BROWSER`, else of an installed Chromium or Chrome; null without any. */
export function findInstalledBrowser(environment = process.env): string | null {
  const named = environment['CLAMPLINE_BROWSER'];
  if (named) return existsSync(named) ? named : null;
  const folders = (environment['PATH'] ?? '').split(delimiter).filter((folder) => folder !== '');
  return NAMES.flatMap((name) => folders.map((folder) => join(folder, name))).find(canRun) ?? null;
}

function canRun(file: string): boolean {
  try {
    accessSync(file, constants.X_OK);
    return true;
  } catch {
    return false;
  }
}
