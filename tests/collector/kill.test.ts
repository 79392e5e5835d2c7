import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';
import { openJournalWriter } from '../../broker/index.ts';
import { bandEdgeHz } from '../../collector/dsp/twelfth-octaves.ts';
import { openReadingReader } from '../../collector/store/sqlite-reader.ts';
import { allRecords, memoryLog } from '../broker/station.ts';
import { seeded, simulatedNode } from '../support/simulated-node.ts';
import { byArrival, largestDifference, runPipeline, stored } from './pipeline/run.ts';

/** How often the collector is killed; CLAMPLINE_KILLS=100 for the long run. */
const KILLS = Number(process.env['CLAMPLINE_KILLS'] ?? 6);
const START_S = 1_760_000_000.25;
const SECONDS = 60 + 2 * KILLS;
const upTo = (count: number) => Array.from({ length: count }, (_, i) => i);

const nodes = upTo(4).map((n) =>
  simulatedNode({
    nodeId: `00000000000000e${n}`,
    startS: START_S + n * 0.31,
    rateFactor: 0.97 + n * 0.02,
    jitterUs: 800,
    framesPerPacket: 800,
    random: seeded(n),
    signal: (s) => (2 + Math.sin(s)) * Math.sin(2 * Math.PI * 50 * (s - START_S)),
    channels: (['x', 'y', 'z'] as const).map((axis) => ({ sensor: 0, axis })),
  }),
);

/** Live packets, a lost one now and then, doubled ones, and a backlog of ten seconds that comes late. */
function messages() {
  return byArrival(
    ...nodes.map((node) => {
      const packets = upTo(node.packetsIn(SECONDS)).filter((i) => i % 97 !== 50);
      const late = (i: number) => (i > 80 && i < 120 ? 12 : 0.05);
      return packets.flatMap((i) =>
        i % 13 === 0 ? [node.packet(i, late(i)), node.packet(i, late(i))] : [node.packet(i, late(i))],
      );
    }),
    ...nodes.map((node) => [-3, -2, -1, 30, 60].map((s) => node.exchange(s))),
  );
}

function startCollector(config: object): { child: ChildProcess; workedOff(position: number): Promise<void> } {
  const script = fileURLToPath(new URL('collector-process.mjs', import.meta.url));
  const child = spawn(process.execPath, [script, JSON.stringify(config)], {
    stdio: ['pipe', 'pipe', 'inherit'],
  });
  const lines = createInterface({ input: child.stdout! });
  return {
    child,
    workedOff: async (position) => {
      for await (const line of lines) if (Number(line) >= position) return;
      throw new Error('the collector ended before it had worked off the journal');
    },
  };
}

it(`loses nothing and doubles nothing when it is killed ${KILLS} times`, {
  timeout: 60_000 + KILLS * 5000,
}, async () => {
  const folder = await mkdtemp(join(tmpdir(), 'clampline-kill-'));
  const config = {
    site: 'depot',
    journalDir: join(folder, 'journal'),
    readingsFile: join(folder, 'readings.sqlite'),
    // The samples are said to be older than readings are kept otherwise.
    retention: { secondsDays: null },
    mqtt: null,
  };
  const journal = await openJournalWriter(config.journalDir, memoryLog(), { segmentBytes: 1 << 20 });
  const reader = openReadingReader(config.readingsFile);
  let running: ChildProcess | null = null;
  try {
    const sent = messages();
    const share = Math.ceil(sent.length / (KILLS + 1));
    const random = seeded(11);
    for (let kill = 0; kill <= KILLS; kill++) {
      const { child, workedOff } = startCollector(config);
      running = child;
      const part = sent.slice(kill * share, (kill + 1) * share);
      for (const [i, { topic, payload, arrivedAtUs }] of part.entries()) {
        await journal.append(topic, payload, arrivedAtUs);
        if (i % 8 === 0) await sleep(random() * 8);
      }
      if (kill < KILLS) {
        await sleep(random() * 250);
        child.kill('SIGKILL');
      } else {
        await workedOff((await allRecords(config.journalDir)).at(-1)!.position + 1);
        child.stdin!.end();
      }
      await once(child, 'exit');
      running = null;
    }

    const expected = stored(runPipeline(await allRecords(config.journalDir)).readings);
    const found = await Promise.all(
      nodes.map(({ nodeId }) => reader.readings({ nodeId, sensor: 0 }, 0, 1e15)),
    );
    const kept = stored(found.flat());
    expect(kept.size).toBe(found.flat().length);
    expect([...kept.keys()].sort()).toEqual([...expected.keys()].sort());
    for (const [key, reading] of expected) {
      expect(kept.get(key)!.flags.sort()).toEqual(reading.flags.sort());
      // Kept in 32 bits.
      expect(largestDifference(reading, kept.get(key)!)).toBeLessThan(1e-6);
    }
    expect(kept.size).toBeGreaterThan(4 * (SECONDS - 5));
    // Every sound second is in the spectrum of its minute, once.
    const bad = ['clipped', 'gap', 'settling', 'unknown-scale', 'stuck'];
    for (const [n, { nodeId }] of nodes.entries()) {
      const sound = found[n]!.filter(({ flags }) => !flags.some((flag) => bad.includes(flag)));
      const spectrum = await reader.spectrum({ nodeId, sensor: 0 }, 0, 1e15);
      expect(spectrum!.blocks).toBe(sound.length);
      // 3 axes of a 50 Hz tone: the bands' mean square is that of the readings.
      const { firstBand, density } = spectrum!;
      const total = density[0]!.reduce(
        (sum, value, i) => sum + value * (bandEdgeHz(firstBand + i + 1) - bandEdgeHz(firstBand + i)),
        0,
      );
      const squares = sound.map((reading) => reading.axes[0]!.accelerationRmsMPerS2! ** 2);
      const mean = squares.reduce((sum, value) => sum + value, 0) / squares.length;
      expect(Math.abs(total / mean - 1)).toBeLessThan(0.05);
    }
  } finally {
    running?.kill('SIGKILL');
    await reader.close();
    await journal.close();
    await rm(folder, { recursive: true, force: true });
  }
});
