import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openReadingReader, openWav, type ReadingReader } from '../../collector/index.ts';
import { openRecordStore } from '../../dashboard/server/index.ts';
import { recordingSource, startVirtualNode, type VirtualNode } from '../../dashboard/virtual/index.ts';
import { velocitySine } from '../support/signals.ts';
import { cli } from '../support/station.ts';
import { encodeSamples, wavBytes } from '../support/wav-bytes.ts';

const NODE_ID = 'c1a0000000000903';
const RATE_HZ = 1600;
const SENSOR = { nodeId: NODE_ID, sensor: 0 };

describe('two collectors of one site', () => {
  let folder: string;
  let reader: ReadingReader;
  let node: VirtualNode;
  let mqttUrl: string;
  const parts: ChildProcess[] = [];

  /** Starts a part and waits for a line of it that matches; gives the match. */
  async function part(name: string, args: string[], until: RegExp): Promise<[ChildProcess, string[]]> {
    const child = spawn(process.execPath, [cli, name, '--data', folder, ...args], {
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    parts.push(child);
    for await (const line of createInterface({ input: child.stdout! })) {
      const found = until.exec(line);
      if (found === null) continue;
      child.stdout!.resume();
      return [child, found];
    }
    throw new Error(`${name} ended`);
  }
  const newestMs = async () => (await reader.latest())[0]?.startMs ?? 0;
  async function untilNewer(thanMs: number): Promise<number> {
    for (;;) {
      const ms = await newestMs();
      if (ms > thanMs) return ms;
      await sleep(20);
    }
  }

  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'clampline-hand-over-'));
    const records = openRecordStore(join(folder, 'records.sqlite'));
    const password = records.nodes.add(NODE_ID, 'Fan');
    records.close();
    const [, nodes] = await part('broker', ['--mqtt-port', '0'], /nodes\s+(\S+)/);
    mqttUrl = nodes[1]!;
    const file = join(folder, 'sine.wav');
    const samples = velocitySine(80, 5, RATE_HZ, 120 * RATE_HZ).map((value) => value / 80);
    await writeFile(file, wavBytes(encodeSamples(samples, 16), { sampleRateHz: RATE_HZ }));
    node = await startVirtualNode({
      mqttUrl,
      identity: { site: 'workshop', nodeId: NODE_ID, password },
      source: recordingSource(await openWav(file), 80),
      pace: { kind: 'live', clockErrorPpm: 20, rateErrorPct: 0.3 },
    });
    reader = openReadingReader(join(folder, 'readings.sqlite'));
  }, 60_000);

  afterAll(async () => {
    await node?.stop();
    for (const child of parts) {
      if (child.exitCode !== null || child.signalCode !== null) continue;
      const ended = once(child, 'exit');
      child.kill('SIGTERM');
      await ended;
    }
    await reader?.close();
    await rm(folder, { recursive: true, force: true });
  });

  it('measure one after the other: the second takes over, and no second is lost', {
    timeout: 120_000,
  }, async () => {
    const args = ['--mqtt-url', mqttUrl];
    const [first] = await part('collector', args, /^ready$/);
    const [second] = await part('collector', [...args, '--standby'], /Standing by/);
    const beginMs = await untilNewer((await untilNewer(0)) + 2_000);

    const ended = once(first, 'exit');
    first.kill('SIGKILL');
    await ended;
    const killed = performance.now();
    const lastMs = await newestMs();
    const nextMs = await untilNewer(lastMs);
    const takeOverMs = performance.now() - killed;
    console.log(`hand-over: the next reading was stored ${Math.round(takeOverMs)} ms after the kill`);
    expect(nextMs).toBeGreaterThan(lastMs);

    const endMs = await untilNewer(nextMs + 3_000);
    const readings = await reader.readings(SENSOR, beginMs, endMs);
    expect(readings.map(({ startMs }) => startMs)).toEqual(
      Array.from({ length: (endMs - beginMs) / 1000 }, (_, i) => beginMs + i * 1000),
    );
    expect(readings.filter(({ flags }) => flags.includes('gap'))).toEqual([]);

    // The other way round as well, now by an orderly end.
    const [third] = await part('collector', [...args, '--standby'], /Standing by/);
    const stopped = once(second, 'exit');
    second.kill('SIGTERM');
    await stopped;
    await untilNewer(await newestMs());
    expect(third.exitCode).toBeNull();
  });

  it('stands by until it is told to stop', async () => {
    const [waiting] = await part('collector', ['--mqtt-url', mqttUrl, '--standby'], /Standing by/);
    const ended = once(waiting, 'exit');
    waiting.kill('SIGTERM');
    expect((await ended)[0]).toBe(0);
  });
});
