import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { LocationReading } from '../../dashboard/contract/model.ts';
import { velocitySine } from '../support/signals.ts';
import { type RunningStation, runStation } from '../support/station.ts';
import { readingsAfterReplay, setUp } from '../support/station-client.ts';
import { encodeSamples, wavBytes } from '../support/wav-bytes.ts';

/**
 * A sine of known velocity, v = a / (2 pi f sqrt 2), through the whole path: 16-bit samples, packets, MQTT,
 * journal, collector, store, HTTP. Tolerances at 10 and 1000 Hz: ISO 2954-style, 0.8 to 1.1 (from memory).
 */
const RATES_HZ = [3200, 6400, 25600];
const FREQUENCIES_HZ = [10, 12.5, 20, 40, 80, 160, 400, 800, 1000];
const VELOCITY_MM_PER_S = 6;
const SECONDS = 6;
const FULL_SCALE_M_PER_S2 = 80;

/** One channel for each frequency, digital full scale = 1, in 16 bits. */
function recording(sampleRateHz: number): Buffer {
  const count = SECONDS * sampleRateHz;
  const channels = FREQUENCIES_HZ.map((hz) => velocitySine(hz, VELOCITY_MM_PER_S, sampleRateHz, count));
  const interleaved = new Float64Array(count * channels.length);
  for (let i = 0; i < count; i++) {
    for (const [c, channel] of channels.entries()) {
      interleaved[i * channels.length + c] = channel[i]! / FULL_SCALE_M_PER_S2;
    }
  }
  return wavBytes(encodeSamples(interleaved, 16), { sampleRateHz, channelCount: channels.length });
}

describe.each(RATES_HZ)('a sine through the whole path at %d samples/s', (sampleRateHz) => {
  let folder: string;
  let station: RunningStation;
  let readings: LocationReading[][];

  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'clampline-sine-'));
    const file = join(folder, 'sines.wav');
    await writeFile(file, recording(sampleRateHz));
    const scale = ['--full-scale', String(FULL_SCALE_M_PER_S2), '--unit', 'm/s2'];
    station = await runStation(['--replay', file, ...scale, '--replay-speed', '20']);
    readings = await readingsAfterReplay(await setUp(station), SECONDS - 1);
  }, 120_000);

  afterAll(async () => {
    await station?.close();
    await rm(folder, { recursive: true, force: true });
  });

  it.each([...FREQUENCIES_HZ.entries()])('channel %d: %d Hz', (channel, frequencyHz) => {
    const settled = readings[channel]!.filter((reading) => reading.flags.length === 0);
    expect(settled.length).toBeGreaterThanOrEqual(SECONDS - 3);
    for (const { highest, bandHz } of settled) {
      expect(bandHz).toEqual([10, 1000]);
      const sensitivity = highest!.velocityRmsMmPerS / VELOCITY_MM_PER_S;
      if (frequencyHz >= 12.5 && frequencyHz <= 800) expect(Math.abs(sensitivity - 1)).toBeLessThan(0.01);
      expect(sensitivity).toBeGreaterThan(0.8);
      expect(sensitivity).toBeLessThan(1.1);
    }
  });
});
