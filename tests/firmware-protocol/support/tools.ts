import { execFile, spawn, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';

export const coreFolder = fileURLToPath(new URL('../../../firmware-protocol/c/', import.meta.url));

/** Null when every program is there, else the words a skipped test shows. */
export function missing(...programs: string[]): string | null {
  const absent = programs.find((name) => spawnSync('sh', ['-c', `command -v ${name}`]).status !== 0);
  return absent === undefined ? null : `skipped: ${absent} not present`;
}

/** A folder of its own to build in, so that test files can build at the same time; remove with `dispose`. */
export function buildFolder(): { folder: string; dispose: () => void } {
  const folder = mkdtempSync(join(tmpdir(), 'clampline-core-'));
  return { folder, dispose: () => rmSync(folder, { recursive: true, force: true }) };
}

/** Runs make in the core's folder; resolves with what it printed. */
export async function make(build: string, ...targets: string[]): Promise<string> {
  const { stdout } = await promisify(execFile)('make', [`B=${build}`, ...targets], {
    cwd: coreFolder,
    maxBuffer: 64 * 1024 * 1024,
  });
  return stdout;
}

/** Drives the C core's `replay` program: one answer for each line, in order. */
export async function replay(program: string, lines: string[]): Promise<string[]> {
  const child = spawn(program, { stdio: ['pipe', 'pipe', 'inherit'] });
  const answers: string[] = [];
  const reading = (async () => {
    for await (const line of createInterface({ input: child.stdout })) answers.push(line);
  })();
  const ended = new Promise<number | null>((resolve) => child.on('close', resolve));
  child.stdin.on('error', () => {}); // a program that died is told by its exit code below
  child.stdin.end(`${lines.join('\n')}\n`);
  await reading;
  const code = await ended;
  if (code !== 0 || answers.length !== lines.length)
    throw new Error(`replay ended with ${code} after ${answers.length} of ${lines.length} answers`);
  return answers;
}
