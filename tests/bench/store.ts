import { mkdtemp, rm, stat } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { BlockSpectrum, Reading } from '../../collector/model.ts';
import { openReadingReader } from '../../collector/store/sqlite-reader.ts';
import { openSqliteStore } from '../../collector/store/sqlite-store.ts';
import { uniform } from '../support/signals.ts';
import type { Measured } from './meter.ts';

const BEGIN_S = 1_700_006_400;
const YEAR_MINUTES = 365 * 24 * 60;

/** A node of three axes whose level wanders by the day. */
function reading(nodeId: string, second: number, random: () => number): Reading {
  const level = 2 + Math.sin(second / 40_000) + random();
  return {
    nodeId,
    sensor: 0,
    startMs: second * 1000,
    durationS: 0.9998 + random() / 1000,
    sampleRateHz: 3188.5 + random(),
    bandHz: [10, 1000],
    axes: (['x', 'y', 'z'] as const).map((axis, i) => ({
      axis,
      velocityRmsMmPerS: level / (i + 1),
      accelerationRmsMPerS2: level * (1 + random() / 10),
      accelerationPeakMPerS2: level * (4 + random()),
      crestFactor: 4 + random(),
      kurtosis: 3 + random(),
    })),
    flags: random() < 0.01 ? ['gap'] : [],
    timeUncertaintyMs: 2 + random(),
  };
}

/** Of the same block, 95 bands as at 3200 samples/s. */
function spectrum({ nodeId, sensor, startMs }: Reading, random: () => number): BlockSpectrum {
  const density = [1, 2, 3].map(() => Float64Array.from({ length: 95 }, () => 1e-3 + random()));
  return { nodeId, sensor, startMs, axes: ['x', 'y', 'z'], firstBand: -92, density };
}

const nodeName = (n: number) => n.toString(16).padStart(16, '0');

/** The station's way of writing: every 200 ms a commit with what a fifth of the nodes have measured. */
async function writing(folder: string, withSpectra: boolean): Promise<Measured[]> {
  const file = join(folder, `live-${withSpectra}.sqlite`);
  const store = await openSqliteStore(file, { retention: { secondsDays: null } });
  const random = uniform(1);
  const [nodes, seconds] = [300, 300];
  const batches = Array.from({ length: seconds * 5 }, (_, batch) => {
    const second = BEGIN_S + Math.floor(batch / 5);
    return Array.from({ length: nodes / 5 }, (_, i) =>
      reading(nodeName((batch % 5) * (nodes / 5) + i), second, random),
    );
  });
  // The same ones again and again: making them is not the store's work.
  const some = batches[0]!.map((one) => spectrum(one, random));
  const spectraOf = (batch: Reading[]) =>
    batch.map(({ nodeId, sensor, startMs }, i) => ({ ...some[i]!, nodeId, sensor, startMs }));
  const state = 'x'.repeat(1800);
  const begin = performance.now();
  const used = process.cpuUsage();
  for (const [i, batch] of batches.entries()) {
    // Once a second the state of all nodes goes with it.
    const set =
      i % 5 === 0 ? Array.from({ length: nodes }, (_, n): [string, string] => [nodeName(n), state]) : [];
    const kept = i % 5 === 0 ? { set, remove: [] } : undefined;
    await store.commit(batch, i, kept, withSpectra ? spectraOf(batch) : []);
  }
  const wallS = (performance.now() - begin) / 1000;
  const { user, system } = process.cpuUsage(used);
  await store.close();
  const bytes = (await stat(file)).size - nodes * state.length;
  const rows = nodes * seconds;
  const what = withSpectra ? ' and spectra' : '';
  return [
    {
      name: `readings written${what}, commits of 60, state of 300 nodes each second`,
      value: rows / wallS,
      unit: 'readings/s',
    },
    { name: `share of one core for 300 nodes${what}`, value: (user + system) / 1e6 / seconds, unit: 'cores' },
    {
      name: `size on disk, 3 axes, with its minutes and hours${what}`,
      value: bytes / rows,
      unit: 'bytes/reading',
    },
  ];
}

/** One location, a year: every minute has a reading, so that minute and hour rows are as many as in a real year. */
async function year(folder: string): Promise<Measured[]> {
  const file = join(folder, 'year.sqlite');
  const store = await openSqliteStore(file, { retention: { secondsDays: null } });
  const random = uniform(2);
  for (let minute = 0; minute < YEAR_MINUTES; minute += 5000) {
    const count = Math.min(5000, YEAR_MINUTES - minute);
    const batch = Array.from({ length: count }, (_, i) =>
      reading(nodeName(1), BEGIN_S + (minute + i) * 60, random),
    );
    await store.commit(batch, minute);
  }
  await store.close();
  const reader = openReadingReader(file);
  const ask = async (days: number) => {
    const toMs = (BEGIN_S + YEAR_MINUTES * 60) * 1000;
    const sensor = { nodeId: nodeName(1), sensor: 0 };
    const span = { fromMs: toMs - days * 86_400_000, toMs, maxPoints: 500 };
    const times: number[] = [];
    for (let round = 0; round < 15; round++) {
      const before = process.cpuUsage();
      const series = await reader.series({ sensor, value: 'velocityRmsMmPerS', axis: 'highest', ...span });
      const { user, system } = process.cpuUsage(before);
      times.push((user + system) / 1000);
      if (series.timeMs.length !== 500) throw new Error(`${series.timeMs.length} points`);
    }
    return { first: times[0]!, median: times.sort((a, b) => a - b)[7]! };
  };
  const whole = await ask(365);
  const month = await ask(20);
  await reader.close();
  return [
    {
      name: 'a year of minute readings as 500 points, first time',
      value: whole.first,
      unit: 'ms of processor',
    },
    { name: 'a year of minute readings as 500 points, median', value: whole.median, unit: 'ms of processor' },
    {
      name: '20 days of minute readings as 500 points (the most rows), median',
      value: month.median,
      unit: 'ms',
    },
  ];
}

/** Cost of storing readings and of reading a trend. */
export async function bench(): Promise<Measured[]> {
  const folder = await mkdtemp(join(tmpdir(), 'clampline-bench-'));
  try {
    return [...(await writing(folder, false)), ...(await writing(folder, true)), ...(await year(folder))];
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}
