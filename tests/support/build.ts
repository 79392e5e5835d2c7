import { spawnSync } from 'node:child_process';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

/**
 * Tests of the whole station run what is built: builds it again when a source has changed. A build with errors
 * is left for `npm run check` to report, so that tests of other folders can run meanwhile.
 */
export function setup(): void {
  const prepare = join(dirname(fileURLToPath(import.meta.url)), '../../dashboard/station/prepare.mjs');
  const { status } = spawnSync(process.execPath, [prepare, '--quiet'], { stdio: 'inherit' });
  if (status !== 0) console.error('The build has errors: tests of the whole station run an older one.');
}
