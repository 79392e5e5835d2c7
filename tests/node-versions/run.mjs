// Runs the whole suite on another release of Node.js: `npm run test:node -- 26`. The npm package `node` brings
// the release, with the headers that the native SQLite module is built against. Works in a copy of the
// repository, so that this folder's packages stay as they are.
import { spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync, symlinkSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const release = process.argv[2] ?? '26';
const root = join(dirname(fileURLToPath(import.meta.url)), '..', '..');
const work = mkdtempSync(join(tmpdir(), 'clampline-node-'));

function run(command, args, options = {}) {
  const result = spawnSync(command, args, { stdio: 'inherit', cwd: join(work, 'main'), ...options });
  if (result.status !== 0)
    throw new Error(`${command} ${args.join(' ')} ended with ${result.status ?? result.signal}`);
}

try {
  run('git', ['clone', '--quiet', root, join(work, 'main')], { cwd: work });
  const recordings = join(root, '..', 'shared');
  if (existsSync(recordings)) symlinkSync(recordings, join(work, 'shared'));
  run(
    'npm',
    ['install', '--silent', '--prefix', join(work, 'node'), `node-linux-${process.arch}@${release}`],
    { cwd: work },
  );
  const home = join(work, 'node', 'node_modules', `node-linux-${process.arch}`);
  const env = { ...process.env, PATH: `${join(home, 'bin')}:${process.env.PATH}`, npm_config_nodedir: home };
  run('node', ['--version'], { env });
  run('npm', ['test'], { env });
} finally {
  rmSync(work, { recursive: true, force: true });
}
