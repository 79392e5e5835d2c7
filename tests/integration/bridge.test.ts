import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openWav } from '../../collector/index.ts';
import type { Asset, Location } from '../../dashboard/contract/model.ts';
import { recordingSource, startVirtualNode } from '../../dashboard/virtual/index.ts';
import { OUTSIDE_BROKERS, type OutsideBroker } from '../broker/bridge/outside-broker.ts';
import { velocitySine } from '../support/signals.ts';
import { type RunningStation, runStation } from '../support/station.ts';
import { readingsAfterReplay, type StationClient, setUp } from '../support/station-client.ts';
import { encodeSamples, wavBytes } from '../support/wav-bytes.ts';

const NODE_ID = 'c1a0000000000902';
const NODE_PASSWORD = 'known-to-the-other-broker';
const { absent, run } = OUTSIDE_BROKERS[0]!;

describe.skipIf(absent !== null)(`a station with --bridge${absent === null ? '' : ` (${absent})`}`, () => {
  let folder: string;
  let outside: OutsideBroker;
  let station: RunningStation;
  let client: StationClient;

  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'clampline-bridge-'));
    outside = await run({ [NODE_ID]: NODE_PASSWORD });
    const passwordFile = join(folder, 'password');
    await writeFile(passwordFile, `${outside.password}\n`);
    const account = ['--bridge-user', outside.username, '--bridge-password-file', passwordFile];
    station = await runStation(['--bridge', outside.url, ...account]);
    client = await setUp(station);
  }, 120_000);

  afterAll(async () => {
    await station?.close();
    await outside?.close();
    await rm(folder, { recursive: true, force: true });
  });

  it('measures a node that is connected to the other broker, and counts it', async () => {
    const asset = await client.send<Asset>('POST', '/api/assets', {
      name: 'Workshop extraction fan',
      kind: 'machine',
      machineClass: 'I',
    });
    const place = { name: 'Drive end', component: 'Fan motor' };
    const location = await client.send<Location>('POST', `/api/assets/${asset.id}/locations`, place);
    await client.send('POST', '/api/nodes', { nodeId: NODE_ID, label: 'Fan' });
    await client.send('PUT', `/api/locations/${location.id}/mount`, {
      mount: { nodeId: NODE_ID, sensor: 0 },
    });
    const file = join(folder, 'sine.wav');
    const samples = velocitySine(80, 5, 3200, 6 * 3200).map((value) => value / 80);
    await writeFile(file, wavBytes(encodeSamples(samples, 16), { sampleRateHz: 3200 }));
    const recording = await openWav(file);
    const node = await startVirtualNode({
      mqttUrl: outside.url,
      identity: { site: 'workshop', nodeId: NODE_ID, password: NODE_PASSWORD },
      source: recordingSource(recording, 80),
      pace: { kind: 'replay', startMs: Date.now() + 2_000, speed: 10 },
    });
    await node.done;
    await recording.close();
    const [readings] = await readingsAfterReplay(client, 5);
    const settled = readings!.filter((reading) => reading.flags.length === 0);
    expect(settled.length).toBeGreaterThanOrEqual(3);
    for (const { highest } of settled) expect(highest!.velocityRmsMmPerS).toBeCloseTo(5, 1);
    const { counters } = await client.get<{ counters: Record<string, number> }>('/api/health');
    expect(counters['bridgeConnected']).toBe(1);
    expect(counters['bridgeJournaled']).toBeGreaterThan(40);
  });
});
