// Runs before `npm start`, `npm test` and `npm run clampline`: installs and builds what is missing, and is
// quick when nothing is. Plain JavaScript without dependencies, since it runs before anything is installed.
import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const root = join(dirname(fileURLToPath(import.meta.url)), '..', '..');
const quiet = process.argv.includes('--quiet');
const forTests = process.argv.includes('--tests');

function say(text) {
  if (!quiet) console.error(text);
}

function stop(text) {
  console.error(text);
  process.exit(1);
}

function run(command, args, why) {
  say(`${why} (${[command, ...args].join(' ')})`);
  const result = spawnSync(command, args, { cwd: root, stdio: ['ignore', 2, 2] });
  if (result.status !== 0)
    stop(`${why} failed: '${[command, ...args].join(' ')}' ended with ${result.status ?? result.signal}.`);
}

function checkNode() {
  const [major, minor] = process.versions.node.split('.').map(Number);
  if (major < 20 || (major === 20 && minor < 19)) {
    stop(
      `Clampline needs Node.js 20.19 or newer; this is ${process.version}. Install a current release and try again.`,
    );
  }
}

function digestOf(paths, by) {
  const hash = createHash('sha256').update(process.versions.modules);
  for (const path of paths) hash.update(path).update(by(path));
  return hash.digest('hex');
}

const read = (path) => (existsSync(path) ? readFileSync(path, 'utf8') : '');

function installPackages() {
  // npm writes its own copy of the lock file when it has finished: older than the lock file, or none, means stale.
  const installed = mtimeMs(join(root, 'node_modules', '.package-lock.json'));
  // The native SQLite module is built for one release of Node.js: another one installs again.
  const stamp = join(root, 'node_modules', '.built-for');
  const release = read(stamp);
  const fits = release === '' || release === process.versions.modules;
  if (installed < mtimeMs(join(root, 'package-lock.json')) || !fits) {
    run('npm', ['ci', '--no-audit', '--no-fund', '--loglevel=error'], 'Installing packages');
  }
  if (read(stamp) !== process.versions.modules) writeFileSync(stamp, process.versions.modules);
}

function mtimeMs(path) {
  return statSync(path, { throwIfNoEntry: false })?.mtimeMs ?? 0;
}

/** Two commands started at once must not install or build into each other's files: the second waits. */
function holdLock() {
  const lock = join(
    tmpdir(),
    `clampline-prepare-${createHash('sha256').update(root).digest('hex').slice(0, 12)}`,
  );
  for (;;) {
    try {
      writeFileSync(lock, String(process.pid), { flag: 'wx' });
      process.on('exit', () => rmSync(lock, { force: true }));
      return;
    } catch (error) {
      if (error.code !== 'EEXIST') throw error;
    }
    if (!alive(Number(read(lock)))) rmSync(lock, { force: true });
    else Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, 200);
  }
}

function alive(pid) {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return error.code === 'EPERM';
  }
}

function sourcesBelow(folder) {
  return readdirSync(folder, { withFileTypes: true, recursive: true })
    .filter((entry) => entry.isFile() && /\.(ts|tsx|css|html|svg|json|mjs)$/.test(entry.name))
    .map((entry) => join(entry.parentPath ?? entry.path, entry.name));
}

function build() {
  const folders = ['firmware-protocol', 'broker', 'collector', 'dashboard'].map((name) => join(root, name));
  const files = [
    ...folders.flatMap(sourcesBelow),
    join(root, 'tsconfig.json'),
    join(root, 'tsconfig.build.json'),
    join(root, 'package-lock.json'),
  ].sort();
  const stamp = join(root, 'dist', '.built-from');
  const wanted = digestOf(files, readFileSync);
  if (read(stamp) === wanted) return;
  run('npm', ['run', '--silent', 'build'], 'Building');
  mkdirSync(dirname(stamp), { recursive: true });
  writeFileSync(stamp, wanted);
}

const BROWSERS = ['chromium', 'chromium-browser', 'google-chrome', 'google-chrome-stable'];

function findBrowser() {
  const named = process.env.CLAMPLINE_BROWSER;
  if (named) return existsSync(named) ? named : null;
  for (const name of BROWSERS) {
    const found = spawnSync('sh', ['-c', `command -v ${name}`], { encoding: 'utf8' }).stdout.trim();
    if (found !== '') return found;
  }
  return null;
}

function installBrowser() {
  if (findBrowser() !== null) return;
  const mayInstall = process.getuid?.() === 0 && existsSync('/usr/bin/apt-get');
  if (mayInstall) {
    say('No Chromium found: installing the Debian package.');
    const quietApt = { stdio: ['ignore', 2, 2], env: { ...process.env, DEBIAN_FRONTEND: 'noninteractive' } };
    spawnSync('apt-get', ['update', '-qq'], quietApt);
    spawnSync(
      'apt-get',
      ['install', '-y', '-qq', '--no-install-recommends', 'chromium', 'fonts-dejavu-core'],
      quietApt,
    );
  }
  if (findBrowser() === null) {
    spawnSync(join(root, 'node_modules', '.bin', 'playwright-core'), ['install', 'chromium'], {
      cwd: root,
      stdio: ['ignore', 2, 2],
    });
  }
}

checkNode();
holdLock();
installPackages();
build();
if (forTests) installBrowser();
