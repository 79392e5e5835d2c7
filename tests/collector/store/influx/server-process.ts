import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';

/** A database server of a Debian package, on a free port of this machine and a folder that goes with it. */
export interface ServerProcess {
  url: string;
  /** Ends it: at once, or, with SIGTERM, after it has written down what it holds. The data stays for `start`. */
  kill(signal?: NodeJS.Signals): Promise<void>;
  start(): Promise<void>;
  close(): Promise<void>;
}

export function isInstalled(program: string): boolean {
  return spawnSync('which', [program]).status === 0;
}

/** VictoriaMetrics: takes the write interface of InfluxDB 2. */
export function runVictoriaMetrics(): Promise<ServerProcess> {
  return run('victoria-metrics', '/health', (port, folder) => [
    `-httpListenAddr=127.0.0.1:${port}`,
    `-storageDataPath=${join(folder, 'data')}`,
    '-retentionPeriod=100y',
    // A point written twice is one point, as in InfluxDB.
    '-dedup.minScrapeInterval=1ms',
    '-search.latencyOffset=0s',
    '-loggerLevel=ERROR',
  ]);
}

/** InfluxDB 1: takes the same line protocol on version 1's write interface. */
export function runInfluxOne(): Promise<ServerProcess> {
  return run('influxd', '/ping', (port, folder) => {
    const config = join(folder, 'influxdb.conf');
    const quoted = (name: string) => JSON.stringify(join(folder, name));
    writeFileSync(
      config,
      `reporting-disabled = true
bind-address = "127.0.0.1:0"
[meta]
dir = ${quoted('meta')}
[data]
dir = ${quoted('data')}
wal-dir = ${quoted('wal')}
[monitor]
store-enabled = false
[http]
bind-address = "127.0.0.1:${port}"
log-enabled = false
`,
    );
    return ['-config', config];
  });
}

async function run(
  program: string,
  healthPath: string,
  argumentsOf: (port: number, folder: string) => string[],
): Promise<ServerProcess> {
  const folder = mkdtempSync(join(tmpdir(), `clampline-${program}-`));
  const port = await freePort();
  const url = `http://127.0.0.1:${port}`;
  let child: ChildProcess | null = null;

  async function start(): Promise<void> {
    const started = spawn(program, argumentsOf(port, folder), { stdio: ['ignore', 'ignore', 'pipe'] });
    child = started;
    let said = '';
    started.stderr?.on('data', (chunk) => {
      said = (said + chunk).slice(-2000);
    });
    for (let tries = 0; tries < 300; tries++) {
      const answer = await fetch(url + healthPath).catch(() => null);
      if (answer?.ok) return;
      if (started.exitCode !== null) break;
      await sleep(100);
    }
    throw new Error(`${program} did not start: ${said}`);
  }

  async function kill(signal: NodeJS.Signals = 'SIGKILL'): Promise<void> {
    if (child === null) return;
    const ending = child;
    child = null;
    if (ending.exitCode !== null || ending.signalCode !== null) return;
    const ended = once(ending, 'exit');
    ending.kill(signal);
    await ended;
  }

  await start();
  return {
    url,
    start,
    kill,
    async close() {
      await kill();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as { port: number };
  server.close();
  await once(server, 'close');
  return port;
}
