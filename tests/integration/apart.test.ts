import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { openWav } from '../../collector/index.ts';
import type { Asset, Location } from '../../dashboard/contract/model.ts';
import { recordingSource, startVirtualNode } from '../../dashboard/virtual/index.ts';
import { velocitySine } from '../support/signals.ts';
import { cli } from '../support/station.ts';
import { readingsAfterReplay, type StationClient, setUp } from '../support/station-client.ts';
import { encodeSamples, wavBytes } from '../support/wav-bytes.ts';

const NODE_ID = 'c1a0000000000901';

/** The three parts as processes of their own, as docker-compose.yml runs them. */
describe('broker, collector and dashboard as separate processes', () => {
  let folder: string;
  const parts: ChildProcess[] = [];
  let client: StationClient;
  let mqttUrl: string;
  let pageUrl: string;

  async function part(name: string, args: string[]): Promise<Record<string, string>> {
    const child = spawn(process.execPath, [cli, name, '--data', folder, ...args], {
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    parts.push(child);
    const places: Record<string, string> = {};
    for await (const line of createInterface({ input: child.stdout! })) {
      const [, place, url] = line.match(/^\s*(page|nodes|setup)\s+(\S+)/) ?? [];
      if (place !== undefined && url !== undefined) places[place] = url;
      if (line === 'ready') break;
    }
    child.stdout!.resume();
    return places;
  }

  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'clampline-apart-'));
    mqttUrl = (await part('broker', ['--mqtt-port', '0']))['nodes']!;
    await part('collector', ['--mqtt-url', mqttUrl]);
    const { page, setup } = await part('dashboard', ['--mqtt-url', mqttUrl, '--port', '0']);
    pageUrl = page!;
    client = await setUp({ pageUrl, setupUrl: setup! });
  }, 60_000);

  afterAll(async () => {
    for (const child of parts.reverse()) {
      const ended = once(child, 'exit');
      child.kill('SIGTERM');
      await ended;
    }
    await rm(folder, { recursive: true, force: true });
  });

  it('measure what an enrolled node sends, from the wire to the page', async () => {
    const asset = await client.send<Asset>('POST', '/api/assets', {
      name: 'Fan',
      kind: 'machine',
      machineClass: 'I',
    });
    const place = { name: 'Drive end', component: 'Fan motor' };
    const location = await client.send<Location>('POST', `/api/assets/${asset.id}/locations`, place);
    const { password } = await client.send<{ password: string }>('POST', '/api/nodes', {
      nodeId: NODE_ID,
      label: 'Fan',
    });
    await client.send('PUT', `/api/locations/${location.id}/mount`, {
      mount: { nodeId: NODE_ID, sensor: 0 },
    });

    const file = join(folder, 'sine.wav');
    const samples = velocitySine(80, 5, 3200, 6 * 3200).map((value) => value / 80);
    await writeFile(file, wavBytes(encodeSamples(samples, 16), { sampleRateHz: 3200 }));
    const recording = await openWav(file);
    const node = await startVirtualNode({
      mqttUrl,
      identity: { site: 'workshop', nodeId: NODE_ID, password },
      source: recordingSource(recording, 80),
      // Dated ahead of the mount, which begins now.
      pace: { kind: 'replay', startMs: Date.now() + 2_000, speed: 10 },
    });
    await node.done;
    await recording.close();
    const [readings] = await readingsAfterReplay(client, 5);
    const settled = readings!.filter((reading) => reading.flags.length === 0);
    expect(settled.length).toBeGreaterThanOrEqual(3);
    for (const { highest } of settled) expect(highest!.velocityRmsMmPerS).toBeCloseTo(5, 1);
  });

  it('tell the dashboard of all of them, for health and metrics', async () => {
    const parts = ['broker', 'journal', 'collector', 'dashboard'];
    await vi.waitFor(
      async () => {
        const text = await (await fetch(new URL('/metrics', pageUrl))).text();
        for (const name of parts) expect(text).toMatch(new RegExp(`events_total{part="${name}",event=`));
        expect(text).toMatch(/part="journal",event="records"} [1-9]/);
        expect(text).toMatch(/^clampline_ok 1$/m);
      },
      { timeout: 15_000, interval: 200 },
    );
  });
});
