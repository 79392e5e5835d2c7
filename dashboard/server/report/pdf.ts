import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { Refusal } from '../errors.ts';
import { findInstalledBrowser } from './find-browser.ts';

const LONGEST_MS = 60_000;
const MOST_WAITING = 4;

let turn: Promise<unknown> = Promise.resolve();
let waiting = 0;

/**
 * A report on paper, by the Chromium or Chrome installed on this machine: one at a time, for each takes some 300 MB. It
 * is made only when it can be printed.
 *
 * Refuses with `PDF_UNAVAILABLE` (no browser), `PDF_FAILED`, `ANALYSIS_BUSY`.
 */
export async function printPdf(makePage: () => Promise<string>): Promise<Buffer> {
  const browser = findInstalledBrowser();
  if (browser === null) throw new Refusal('PDF_UNAVAILABLE');
  if (waiting >= MOST_WAITING)
    throw new Refusal('ANALYSIS_BUSY', { message: 'Too many reports are being printed already.' });
  waiting += 1;
  const mine = turn.then(async () => printNow(browser, await makePage()));
  turn = mine
    .catch(() => undefined)
    .finally(() => {
      waiting -= 1;
    });
  return mine;
}

async function printNow(browser: string, page: string): Promise<Buffer> {
  // For this account only: a report holds what is nobody else's business.
  const folder = await mkdtemp(join(tmpdir(), 'clampline-report-'));
  try {
    const file = join(folder, 'report.html');
    const pdf = join(folder, 'report.pdf');
    await writeFile(file, page, { mode: 0o600 });
    await run(browser, [...safeArguments(folder), `--print-to-pdf=${pdf}`, pathToFileURL(file).href], folder);
    return await readFile(pdf);
  } catch (cause) {
    throw new Refusal('PDF_FAILED', { cause });
  } finally {
    await rm(folder, { recursive: true, force: true, maxRetries: 3 });
  }
}

/** No profile of a person and no network: the file is all there is, and its own policy lets no script run. */
function safeArguments(folder: string): string[] {
  return [
    '--headless',
    '--disable-gpu',
    '--no-first-run',
    '--no-default-browser-check',
    '--disable-extensions',
    '--disable-background-networking',
    '--disable-component-update',
    '--disable-sync',
    '--disable-dev-shm-usage',
    '--host-resolver-rules=MAP * ~NOTFOUND',
    `--user-data-dir=${join(folder, 'profile')}`,
    '--no-pdf-header-footer',
    // Chromium does not start as root with its sandbox; what it opens here is the station's own text without scripts.
    ...(process.getuid?.() === 0 ? ['--no-sandbox'] : []),
  ];
}

async function run(browser: string, args: string[], folder: string): Promise<void> {
  const { PATH = '', LANG = 'C.UTF-8', TZ } = process.env;
  const child = spawn(browser, args, {
    stdio: 'ignore',
    // A group of its own, so that its helpers end with it.
    detached: true,
    env: { PATH, LANG, HOME: folder, ...(TZ === undefined ? {} : { TZ }) },
  });
  const timer = setTimeout(() => endGroup(child.pid), LONGEST_MS);
  try {
    const [code, signal] = (await once(child, 'exit')) as [number | null, NodeJS.Signals | null];
    if (code !== 0) throw new Error(`the browser ended with ${signal ?? code}`);
  } finally {
    clearTimeout(timer);
    endGroup(child.pid);
  }
}

function endGroup(pid: number | undefined): void {
  if (pid === undefined) return;
  try {
    process.kill(-pid, 'SIGKILL');
  } catch {
    // It has ended already.
  }
}
