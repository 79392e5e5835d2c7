import { spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { type AddressInfo, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { cli, runStation } from '../support/station.ts';

let folder: string;

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'clampline-bad-'));
});

afterAll(() => rm(folder, { recursive: true, force: true }));

function clampline(...args: string[]): { status: number | null; stderr: string; stdout: string } {
  return spawnSync(process.execPath, [cli, ...args], { encoding: 'utf8', timeout: 30_000 });
}

it('prints to a reader that has left already without falling', async () => {
  const table = join(folder, 'levels.csv');
  await writeFile(table, 'time,fan\n2026-03-01,1.5\n');
  const child = spawn(process.execPath, [cli, 'trend', table], { stdio: ['ignore', 'pipe', 'pipe'] });
  child.stdout.destroy();
  let stderr = '';
  child.stderr.on('data', (chunk) => {
    stderr += chunk;
  });
  const [status] = await once(child, 'close');
  expect(stderr).toBe('');
  expect(status).toBe(0);
});

describe('a station that cannot start says what is wrong and what to do', () => {
  it.each([
    ['start', ['--port', '99999'], /--port 99999 is not a port number/, 2],
    ['start', ['--site', 'No Spaces'], /site name 'No Spaces' is not usable/, 2],
    ['start', ['--listen', '0.0.0.0'], /would send passwords in the clear[\s\S]*--tls/, 1],
    ['start', ['--tls-cert', 'x.pem'], /--tls-cert and --tls-key go together/, 2],
    ['start', ['--tls-cert', 'x.pem', '--tls-key', 'y.pem'], /x\.pem[\s\S]*Check both paths/, 1],
    ['start', ['--replay', 'nowhere.wav', '--full-scale', '2'], /nowhere\.wav[\s\S]*no such file/, 1],
    ['start', ['--replay', 'nowhere.wav'], /the scale of nowhere\.wav is not known/, 2],
    ['start', ['--no-such-option'], /unknown option '--no-such-option'/, 2],
    ['check', ['--page', 'http://127.0.0.1:9'], /no station answers[\s\S]*npm start/, 1],
  ])('%s %j', async (command, args, expected, status) => {
    const data = command === 'start' ? ['--data', join(folder, 'fresh'), '--mqtt-port', '0'] : [];
    const page = command === 'start' && !args.includes('--port') ? ['--port', '0'] : [];
    const result = clampline(command, ...data, ...page, ...args);
    expect(result.stderr).toMatch(expected);
    expect(result.stderr).not.toMatch(/^\s+at /m);
    expect(result.status).toBe(status);
  });

  it.each([
    ['--port', /page|port/i],
    ['--mqtt-port', /MQTT port/],
  ])('%s that another program holds', async (option, expected) => {
    const other = createServer().listen(0, '127.0.0.1');
    await once(other, 'listening');
    const { port } = other.address() as AddressInfo;
    const rest = option === '--port' ? ['--mqtt-port', '0'] : ['--port', '0'];
    const result = clampline(
      'start',
      '--data',
      join(folder, `taken${option}`),
      option,
      String(port),
      ...rest,
    );
    other.close();
    expect(result.stderr).toMatch(expected);
    expect(result.stderr).toContain(String(port));
    expect(result.status).toBe(1);
  });

  it('a data folder that is a file', async () => {
    const file = join(folder, 'file');
    await writeFile(file, '');
    const result = clampline('start', '--data', file, '--port', '0', '--mqtt-port', '0');
    expect(result.stderr).toMatch(/data folder '.*file' cannot be used[\s\S]*--data/);
    expect(result.status).toBe(1);
  });

  it('a data folder that a running station uses; that one is not disturbed', async () => {
    const station = await runStation();
    const result = clampline('start', '--data', station.dataDir, '--port', '0', '--mqtt-port', '0');
    expect(result.stderr).toMatch(/another station is running/);
    expect(result.status).toBe(1);
    const check = clampline('check', '--page', station.pageUrl);
    expect(check.stdout + check.stderr).toMatch(/is in order/);
    await station.close();
  });

  it('prints help and lists every command', () => {
    const { stdout, status } = clampline('--help');
    for (const command of ['start', 'broker', 'collector', 'dashboard', 'measure', 'check'])
      expect(stdout).toContain(command);
    expect(status).toBe(0);
  });
});
