import { readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** Version of this software, as its package says; the sources and what is built from them lie at different depths. */
export function softwareVersion(): string {
  for (let folder = dirname(fileURLToPath(import.meta.url)); ; folder = dirname(folder)) {
    try {
      const { name, version } = JSON.parse(readFileSync(join(folder, 'package.json'), 'utf8')) as {
        name?: string;
        version?: string;
      };
      if (name === 'clampline') return version ?? 'unknown';
    } catch {
      // Not here.
    }
    if (folder === dirname(folder)) return 'unknown';
  }
}
