import { execFile } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { createChannelMeter } from '../../collector/measure/channel-meter.ts';
import { gaussianNoise } from '../support/signals.ts';

export interface Measured {
  name: string;
  value: number;
  unit: string;
}

const CHANNELS = 300;
const WARM_UP_BLOCKS = 10;

/** Processor time of this thread's process in milliseconds: a busy neighbour does not count. */
function cpuMs(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1000;
}

/** Milliseconds of one core per channel-second: many channels in turn, so that caches see what a station's do. */
function meterCost(sampleRateHz: number, blocks: number): number {
  const signal = gaussianNoise(1, 5, sampleRateHz).map((v) => v + 9.8);
  const meters = Array.from({ length: CHANNELS }, () =>
    createChannelMeter({ sampleRateHz, fullScaleMPerS2: 160 }),
  );
  const second = () => {
    for (const meter of meters) {
      meter.feed(signal);
      meter.closeBlock();
    }
  };
  for (let i = 0; i < WARM_UP_BLOCKS; i++) second();
  const start = cpuMs();
  for (let i = 0; i < blocks; i++) second();
  return (cpuMs() - start) / (CHANNELS * blocks);
}

/** The same work in scipy on the same machine; null where scipy is not installed. */
async function scipyCost(): Promise<{ single: number; batch: number } | null> {
  const script = fileURLToPath(new URL('meter.py', import.meta.url));
  const env = { ...process.env, OMP_NUM_THREADS: '1', OPENBLAS_NUM_THREADS: '1' };
  try {
    const { stdout } = await promisify(execFile)('/usr/bin/python3', [script], { env });
    return JSON.parse(stdout);
  } catch {
    return null;
  }
}

/** Cost of the channel meter: levels and flags of one channel, block by block of a second. */
export async function bench(): Promise<Measured[]> {
  const ms = meterCost(3200, 20);
  const scipy = await scipyCost();
  const results: Measured[] = [
    { name: 'channel meter, 3.2 kHz', value: 1000 / ms, unit: 'channel-seconds per core-second' },
    { name: 'channel meter, 3.2 kHz', value: ms, unit: 'ms per channel-second' },
    { name: 'channel meter, 25.6 kHz', value: meterCost(25_600, 3), unit: 'ms per channel-second' },
    {
      name: '300 nodes x 3 axes x 3.2 kHz, levels alone',
      value: (100 * 900 * ms) / 1000,
      unit: '% of one core',
    },
  ];
  if (scipy !== null) {
    results.push(
      { name: 'scipy, same work, channel by channel', value: scipy.single, unit: 'ms per channel-second' },
      { name: 'scipy, same work, 300 channels at once', value: scipy.batch, unit: 'ms per channel-second' },
      {
        name: 'channel meter against scipy channel by channel',
        value: scipy.single / ms,
        unit: 'times as fast',
      },
      { name: 'channel meter against scipy 300 at once', value: scipy.batch / ms, unit: 'times as fast' },
    );
  }
  return results;
}
