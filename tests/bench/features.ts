import { execFile } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { envelopeSpectrum } from '../../collector/dsp/envelope.ts';
import { createChannelMeter } from '../../collector/measure/channel-meter.ts';
import { gaussianNoise } from '../support/signals.ts';

interface Measured {
  name: string;
  value: number;
  unit: string;
}

const RATE_HZ = 3200;
const BAND_HZ: [number, number] = [800, 1500];
const CHANNELS = 30;
/** Until the compiler has done its work: a station runs for weeks. */
const WARM_UP = 60;
const BLOCKS = 100;

/** Processor time of this process in milliseconds: a busy neighbour does not count. */
function cpuMs(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1000;
}

/** Milliseconds per channel-second of `work`, over many channels in turn. */
function cost(work: (channel: number) => void): number {
  const round = () => {
    for (let channel = 0; channel < CHANNELS; channel++) work(channel);
  };
  for (let i = 0; i < WARM_UP; i++) round();
  const start = cpuMs();
  for (let i = 0; i < BLOCKS; i++) round();
  return (cpuMs() - start) / (CHANNELS * BLOCKS);
}

async function scipyCost(): Promise<number | null> {
  const script = fileURLToPath(new URL('features.py', import.meta.url));
  const env = { ...process.env, OMP_NUM_THREADS: '1', OPENBLAS_NUM_THREADS: '1' };
  try {
    const { stdout } = await promisify(execFile)('/usr/bin/python3', [script], { env });
    return (JSON.parse(stdout) as { ms: number }).ms;
  } catch {
    return null;
  }
}

/** Everything measured of a channel in a second: meter with uncertainty and Welch density, envelope spectrum. */
export async function bench(): Promise<Measured[]> {
  const signal = gaussianNoise(1, 5, RATE_HZ).map((v) => v + 9.8);
  const meters = Array.from({ length: CHANNELS }, () =>
    createChannelMeter({ sampleRateHz: RATE_HZ, fullScaleMPerS2: 160, noiseDensityMPerS2PerRtHz: 1e-3 }),
  );
  const meter = cost((channel) => {
    meters[channel]!.feed(signal);
    meters[channel]!.closeBlock();
    meters[channel]!.lastDensity();
  });
  const envelope = cost(() => envelopeSpectrum(signal, RATE_HZ, BAND_HZ));
  const all = meter + envelope;
  const unit = 'ms per channel-second';
  const figures: Measured[] = [
    { name: 'full feature set, 3.2 kHz: meter with uncertainty, Welch density', value: meter, unit },
    { name: 'full feature set, 3.2 kHz: envelope spectrum', value: envelope, unit },
    { name: 'full feature set, 3.2 kHz', value: all, unit },
  ];
  const scipy = await scipyCost();
  if (scipy !== null) {
    figures.push(
      { name: 'scipy, same work, channel by channel', value: scipy, unit },
      { name: 'full feature set against scipy', value: scipy / all, unit: 'times as fast' },
    );
  }
  return figures;
}
