import { execFile } from 'node:child_process';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { promisify } from 'node:util';
import mqtt from 'mqtt';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Asset, Location, NodeSummary, Trend } from '../../dashboard/contract/model.ts';
import type { FeltTap, RefusedLogin, StationAddress } from '../../dashboard/contract/rig.ts';
import { startVirtualNode, type VirtualNode } from '../../dashboard/virtual/index.ts';
import { clampedBoard } from '../support/clamped-board.ts';
import { cli, type RunningStation, runStation } from '../support/station.ts';
import { PERSON, type StationClient, setUp } from '../support/station-client.ts';

const LIVE = 'c1a0000000000a01';
const TURNING = 'c1a0000000000a02';
const SITE = 'workshop';
const UPRIGHT = [0, 0, 9.81] as const;
/** Turned by 35 degrees. */
const TURNED = [0, 5.627, 8.036] as const;

/** The whole way: a command lets a node in, the node publishes, a person raps and mounts it, and a clamp slips. */
describe('a node from enrolment to a slipped clamp', () => {
  let folder: string;
  let station: RunningStation;
  let client: StationClient;
  let board: ReturnType<typeof clampedBoard>;
  const nodes: VirtualNode[] = [];

  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'clampline-rig-'));
    await writeFile(join(folder, 'password'), `${PERSON.password}\n`);
    station = await runStation();
    client = await setUp(station);
  });
  afterAll(async () => {
    await Promise.all(nodes.map((node) => node.stop().catch(() => undefined)));
    await station?.close();
    await rm(folder, { recursive: true, force: true });
  });

  async function until<Answer>(ask: () => Promise<Answer | undefined | false>): Promise<Answer> {
    for (;;) {
      const answer = await ask();
      if (answer) return answer;
      await sleep(200);
    }
  }

  /** Lets a node in by the command line and reads its password as a compiler would. */
  async function enrol(nodeId: string, label: string): Promise<string> {
    const out = join(folder, `${nodeId}.h`);
    const who = ['--name', PERSON.name, '--password-file', join(folder, 'password')];
    await promisify(execFile)(process.execPath, [
      cli,
      'enrol',
      nodeId,
      '--label',
      label,
      '--data',
      station.dataDir,
      '--out',
      out,
      ...who,
    ]);
    const header = await readFile(out, 'utf8');
    expect(header).toContain(`#define NODE_ID 0x${nodeId}ull`);
    expect(header).toContain(`#define BROKER_PORT ${new URL(station.mqttUrl).port}`);
    return header.match(/#define TOKEN "([0-9a-f]{32})"/)![1]!;
  }

  const nodeOf = async (nodeId: string) =>
    (await client.get<NodeSummary[]>('/api/nodes')).find((node) => node.nodeId === nodeId);
  const placeAt = async (name: string): Promise<Location> => {
    const [asset] = await client.get<Asset[]>('/api/assets');
    return asset!.locations.find((place) => place.name === name)!;
  };

  it('is let in by one command, and shows up sound and waiting for a location', async () => {
    const address = await client.get<StationAddress>('/api/station');
    expect(address).toMatchObject({
      site: SITE,
      mqtt: { hosts: ['127.0.0.1'], tls: false, thisComputerOnly: true },
    });
    const password = await enrol(LIVE, 'Axle board');
    board = clampedBoard({ gravity: () => [UPRIGHT, UPRIGHT] });
    nodes.push(
      await startVirtualNode({
        mqttUrl: station.mqttUrl,
        identity: { site: SITE, nodeId: LIVE, password },
        source: board.source,
        pace: { kind: 'live', clockErrorPpm: 30, rateErrorPct: 1.5 },
      }),
    );
    const node = await until(async () => {
      const found = await nodeOf(LIVE);
      const isMeasured = found?.health?.sensors[0]?.gravityMPerS2 && found.sensors.length === 2;
      return isMeasured && found.soundness?.verdict === 'sound' ? found : undefined;
    });
    expect(node.sensors).toEqual([
      { sensor: 0, locationId: null },
      { sensor: 1, locationId: null },
    ]);
    expect(node.health).toMatchObject({
      status: { state: 'sampling', firmwareVersion: 'virtual' },
      clock: { source: 'synced' },
      boot: { packetsMissing: 0 },
    });
    expect(node.health!.sensors[0]!.gravityMPerS2![2]).toBeCloseTo(9.81, 1);
  }, 120_000);

  it('tells which of its clamps a person raps', async () => {
    await until(async () => ((await nodeOf(LIVE))?.health?.sensors[0]?.recentSeconds ?? 0) >= 5);
    board.rap(1);
    const raps = await until(async () => {
      const felt = await client.get<FeltTap[]>('/api/felt-taps');
      return felt.length > 0 ? felt : undefined;
    });
    expect(raps.at(-1)!.felt[0]).toMatchObject({ nodeId: LIVE, sensor: 1, atRest: true, source: 'samples' });
    expect(raps.at(-1)!.clear).toBe(true);
  }, 120_000);

  it('begins a new stretch when a clamp slips, and a person ends the alarm', async () => {
    const password = await enrol(TURNING, 'Gearbox board');
    const asset = await client.send<Asset>('POST', '/api/assets', {
      name: 'Bus 1',
      kind: 'vehicle',
      machineClass: 'II',
    });
    for (const [sensor, name] of ['Front bearing', 'Output bearing'].entries()) {
      const place = { name, component: 'Gearbox' };
      const { id } = await client.send<Location>('POST', `/api/assets/${asset.id}/locations`, place);
      await client.send('PUT', `/api/locations/${id}/mount`, { mount: { nodeId: TURNING, sensor } });
    }
    // Five seconds in one: dated from now on, so that the mounts cover them.
    const slipS = 25;
    nodes.push(
      await startVirtualNode({
        mqttUrl: station.mqttUrl,
        identity: { site: SITE, nodeId: TURNING, password },
        source: clampedBoard({ gravity: (s) => [s < slipS ? UPRIGHT : TURNED, UPRIGHT], lengthS: 200 })
          .source,
        pace: { kind: 'replay', startMs: Date.now() + 2000, speed: 5 },
      }),
    );
    const turned = await until(async () => {
      const { id, mount } = await placeAt('Front bearing');
      return mount?.turned ? { id, mount } : undefined;
    });
    expect(turned.mount.turned!.turnedDeg).toBeGreaterThan(32);
    expect(turned.mount.turned!.turnedDeg).toBeLessThan(38);
    expect((await placeAt('Output bearing')).mount).not.toHaveProperty('turned');
    const nowMs = Date.now();
    const trend = await client.get<Trend>(
      `/api/locations/${turned.id}/trend?fromMs=${nowMs - 60_000}&toMs=${nowMs + 400_000}`,
    );
    expect(trend.stretches!.map(({ beganBy }) => beganBy)).toEqual(['person', 'turned']);
    expect(station.log()).toMatch(/has turned by 35 degrees/);

    const { mount } = await client.send<Location>('POST', `/api/locations/${turned.id}/mount/confirm`);
    expect(mount).toEqual({ nodeId: TURNING, sensor: 0 });
  }, 180_000);

  it('is cut off at once when it is revoked, and knocks in vain', async () => {
    await client.send('DELETE', `/api/nodes/${LIVE}`);
    const refused = await until(async () => {
      const all = await client.get<RefusedLogin[]>('/api/nodes/refused');
      return all.find(({ nodeId }) => nodeId === LIVE);
    });
    expect(refused.why).toBe('revoked');
    const stranger = {
      username: 'c1a0000000000aff',
      password: 'x',
      reconnectPeriod: 0,
      protocolVersion: 4,
    } as const;
    await expect(mqtt.connectAsync(station.mqttUrl, stranger)).rejects.toThrow();
    const all = await client.get<RefusedLogin[]>('/api/nodes/refused');
    expect(all[0]).toMatchObject({ nodeId: 'c1a0000000000aff', why: 'unknown', attempts: 1 });
  }, 60_000);
});
