import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';

export const projectRoot = join(dirname(fileURLToPath(import.meta.url)), '..', '..');
export const cli = join(projectRoot, 'dist', 'dashboard', 'station', 'cli.js');

export interface RunningStation {
  dataDir: string;
  pageUrl: string;
  mqttUrl: string;
  /** The one-time link, when no person exists yet. */
  setupUrl: string | null;
  log(): string;
  kill(signal: NodeJS.Signals): Promise<void>;
  /** Stops the station as Ctrl-C would and removes its data folder. */
  close(): Promise<void>;
}

/** Starts the built station as a process of its own, on free ports, and waits until it says it is ready. */
export async function runStation(args: string[] = [], dataDir?: string): Promise<RunningStation> {
  const folder = dataDir ?? (await mkdtemp(join(tmpdir(), 'clampline-')));
  const child = spawn(
    process.execPath,
    [cli, 'start', '--data', folder, '--port', '0', '--mqtt-port', '0', ...args],
    { stdio: ['ignore', 'pipe', 'pipe'] },
  );
  const ended = once(child, 'exit');
  let log = '';
  child.stderr.on('data', (chunk) => {
    log += chunk;
  });
  const found: Record<string, string> = {};
  for await (const line of createInterface({ input: child.stdout })) {
    log += `${line}\n`;
    const [, name, url] = line.match(/^\s*(page|nodes|setup)\s+(\S+)/) ?? [];
    if (name !== undefined && url !== undefined) found[name] = url;
    if (line.trim() === 'ready') break;
  }
  if (found['page'] === undefined || found['nodes'] === undefined) {
    await ended;
    throw new Error(`the station did not start:\n${log}`);
  }
  child.stdout.on('data', (chunk) => {
    log += chunk;
  });
  async function kill(signal: NodeJS.Signals): Promise<void> {
    child.kill(signal);
    await ended;
  }
  return {
    dataDir: folder,
    pageUrl: found['page'],
    mqttUrl: found['nodes'],
    setupUrl: found['setup'] ?? null,
    log: () => log,
    kill,
    async close() {
      await kill('SIGINT');
      if (dataDir === undefined) await rm(folder, { recursive: true, force: true });
    },
  };
}
