import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  isInstalled,
  runVictoriaMetrics,
  type ServerProcess,
} from '../collector/store/influx/server-process.ts';
import { runStation } from '../support/station.ts';

const installed = isInstalled('victoria-metrics');
const folder = mkdtempSync(join(tmpdir(), 'clampline-influx-station-'));
let server: ServerProcess;
beforeAll(async () => {
  if (installed) server = await runVictoriaMetrics();
});
afterAll(async () => {
  await server?.close();
  rmSync(folder, { recursive: true, force: true });
});

interface Series {
  metric: Record<string, string>;
  values: number[];
  timestamps: number[];
}

async function series(): Promise<Series[]> {
  await fetch(`${server.url}/internal/force_flush`);
  const match = encodeURIComponent('reading_1s_velocity_rms_mm_s{axis="highest"}');
  const text = await (await fetch(`${server.url}/api/v1/export?match[]=${match}`)).text();
  return text
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => JSON.parse(line) as Series);
}

async function untilThere(enough: (found: Series[]) => boolean): Promise<Series[]> {
  for (let tries = 0; tries < 240; tries++) {
    const found = await series();
    if (enough(found)) return found;
    await sleep(250);
  }
  throw new Error(`not there in time: ${JSON.stringify(await series()).slice(0, 500)}`);
}

const name = installed ? '' : 'skipped: victoria-metrics not installed: ';
describe.skipIf(!installed)(`${name}a station that sends its readings to a database`, () => {
  it('sends them with site, asset and location, and goes on after it was killed', async () => {
    const dataDir = join(folder, 'data');
    const tokenFile = join(folder, 'token');
    writeFileSync(tokenFile, 'unused\n');
    const options = [
      ...[
        '--demo',
        '--site',
        'depot',
        '--influx-url',
        server.url,
        '--influx-org',
        'town',
        '--influx-bucket',
        'buses',
      ],
      ...['--influx-token-file', tokenFile, '--influx-write-only'],
    ];
    const first = await runStation(options, dataDir);
    const before = await untilThere(
      (found) => found.length >= 2 && found.every((one) => one.values.length >= 2),
    );
    for (const { metric } of before) {
      expect(metric).toMatchObject({
        site: 'depot',
        asset: expect.stringMatching(/^\d+$/),
        location: expect.stringMatching(/^\d+$/),
      });
    }
    await first.kill('SIGKILL');

    const again = await runStation(options, dataDir);
    const newest = Math.max(...before.flatMap((one) => one.timestamps));
    const after = await untilThere((found) =>
      found.some((one) => Math.max(...one.timestamps) > newest + 2000),
    );
    for (const { timestamps } of after) expect(new Set(timestamps).size).toBe(timestamps.length);
    expect(again.log()).toContain('not closed properly: it is checked');
    await again.kill('SIGINT');
  }, 120_000);
});
