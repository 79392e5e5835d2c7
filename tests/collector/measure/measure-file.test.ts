import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { createChannelMeter, mergeBlocks } from '../../../collector/measure/channel-meter.ts';
import { measureFile } from '../../../collector/measure/measure-file.ts';
import { gaussianNoise, quantise16, velocitySine } from '../../support/signals.ts';
import { encodeSamples, type WavParts, wavBytes } from '../../support/wav-bytes.ts';

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'measure-'));
});
afterAll(() => rmSync(folder, { recursive: true }));

let files = 0;
/** Channels of acceleration in m/s², stored as 16 bits of 2 g full scale unless told otherwise. */
function store(channels: Float64Array[], parts: WavParts = {}): string {
  const frames = channels[0]!.length;
  const fullScale = 2 * 9.80665;
  const interleaved = Array.from({ length: frames * channels.length }, (_, i) => {
    return channels[i % channels.length]![Math.floor(i / channels.length)]! / fullScale;
  });
  const data = encodeSamples(interleaved, parts.bits ?? 16, parts.format);
  const path = join(folder, `${++files}.wav`);
  writeFileSync(path, wavBytes(data, { channelCount: channels.length, ...parts }));
  return path;
}

const TWO_G = { fullScale: 2, unit: 'g' } as const;

describe('measure a file', () => {
  it('gives each channel its values, its bands and its blocks', async () => {
    const rate = 3200;
    const path = store([velocitySine(80, 10, rate, 3.5 * rate), velocitySine(200, 2, rate, 3.5 * rate)]);
    const measured = await measureFile(path, TWO_G);
    expect(measured).toMatchObject({ file: path, sampleRateHz: 3200, truncated: false });
    expect(measured.channels.map((c) => c.name)).toEqual(['channel-1', 'channel-2']);
    const [first, second] = measured.channels;
    expect(Object.keys(first!)).toEqual([
      'name',
      'durationS',
      'bandHz',
      'accelerationBandHz',
      'velocityRmsMmPerS',
      'velocityUncertaintyMmPerS',
      'accelerationRmsMPerS2',
      'accelerationPeakMPerS2',
      'crestFactor',
      'kurtosis',
      'flags',
      'findings',
      'verdict',
      'verdictReason',
      'blocks',
    ]);
    expect(first).toMatchObject({
      durationS: 3.5,
      bandHz: [10, 1000],
      accelerationBandHz: [0, 1600],
      flags: [],
    });
    expect(first!.velocityRmsMmPerS! / 10).toBeCloseTo(1, 3);
    expect(second!.velocityRmsMmPerS! / 2).toBeCloseTo(1, 3);
    expect(first!.accelerationRmsMPerS2! / (0.01 * 2 * Math.PI * 80)).toBeCloseTo(1, 3);
    expect(first!.kurtosis).toBeCloseTo(1.5, 2);
    expect(first!.blocks.map((b) => [b.startS, b.durationS])).toEqual([
      [0, 1],
      [1, 1],
      [2, 1],
      [3, 0.5],
    ]);
    expect(first!.blocks.map((b) => b.flags)).toEqual([['settling'], [], [], []]);
    expect(first!.blocks[0]!.velocityRmsMmPerS).toBeNull();
    expect(first!.blocks[3]!.velocityRmsMmPerS! / 10).toBeCloseTo(1, 2);
  });

  it("is the station's meter to the last bit", async () => {
    const rate = 6400;
    const signal = quantise16(gaussianNoise(1, 3, 4 * rate), 2 * 9.80665);
    const measured = await measureFile(store([signal], { sampleRateHz: rate }), TWO_G);
    const meter = createChannelMeter({ sampleRateHz: rate, fullScaleMPerS2: 2 * 9.80665 });
    const blocks = [0, 1, 2, 3].map((k) => {
      meter.feed(signal.subarray(k * rate, (k + 1) * rate));
      return meter.closeBlock();
    });
    const merged = mergeBlocks(blocks);
    const { sampleCount, moments, velocityRandomError, velocityBandEdgeLimit, ...values } = merged;
    expect(measured.channels[0]).toMatchObject(values);
  });

  it('the unit of full scale is honoured', async () => {
    const path = store([velocitySine(80, 10, 3200, 6400)]);
    const inG = await measureFile(path, TWO_G);
    const inMetres = await measureFile(path, { fullScale: 2 * 9.80665, unit: 'm/s2' });
    expect(inMetres).toEqual(inG);
  });

  it('the same samples as 24-bit or float give the same values', async () => {
    const signal = velocitySine(160, 5, 3200, 3 * 3200);
    for (const [bits, format] of [
      [24, 1],
      [32, 1],
      [32, 3],
      [64, 3],
    ] as const) {
      const measured = await measureFile(store([signal], { bits, format }), TWO_G);
      expect(measured.channels[0]!.velocityRmsMmPerS! / 5).toBeCloseTo(1, 4);
      expect(measured.channels[0]!.flags).toEqual([]);
    }
  });

  it('a file shorter than the filter needs has no velocity and says so', async () => {
    const measured = await measureFile(store([velocitySine(80, 10, 3200, 1600)]), TWO_G);
    expect(measured.channels[0]).toMatchObject({
      velocityRmsMmPerS: null,
      flags: ['settling'],
      durationS: 0.5,
    });
    expect(measured.channels[0]!.accelerationRmsMPerS2).toBeGreaterThan(1);
  });

  it('full scale 0 gives no values', async () => {
    const measured = await measureFile(store([gaussianNoise(1, 1, 6400)]), { fullScale: 0, unit: 'g' });
    expect(measured.channels[0]).toMatchObject({ accelerationRmsMPerS2: null, flags: ['unknown-scale'] });
  });

  it('a cut file is refused, or measured as far as it goes', async () => {
    const path = store([velocitySine(80, 10, 3200, 9600)], { statedBytes: 40_000 });
    await expect(measureFile(path, TWO_G)).rejects.toMatchObject({ code: 'WAV_TRUNCATED' });
    const measured = await measureFile(path, { ...TWO_G, allowTruncated: true });
    expect(measured).toMatchObject({ truncated: true, channels: [{ durationS: 3 }] });
  });

  it('reports progress up to the end', async () => {
    const shares: number[] = [];
    await measureFile(store([gaussianNoise(1, 1, 40_000)]), {
      ...TWO_G,
      onProgress: (share) => shares.push(share),
    });
    expect(shares.at(-1)).toBe(1);
    expect(shares.length).toBeGreaterThan(1);
    expect([...shares].sort((a, b) => a - b)).toEqual(shares);
  });
});

describe('joined snapshots', () => {
  it('each is a block of its own, without velocity, and joins leave no trace', async () => {
    const snapshots = [1, 2, 3].map((seed) => gaussianNoise(seed, seed, 2560).map((v) => v + 4 - seed));
    const joined = Float64Array.from(snapshots.flatMap((s) => [...s]));
    const path = store([joined], { sampleRateHz: 25_600, bits: 64, format: 3 });
    const { channels } = await measureFile(path, { ...TWO_G, segmentSamples: 2560 });
    expect(channels[0]!.blocks.map((b) => [b.durationS, b.velocityRmsMmPerS])).toEqual([
      [0.1, null],
      [0.1, null],
      [0.1, null],
    ]);
    for (const [i, snapshot] of snapshots.entries()) {
      const mean = snapshot.reduce((s, v) => s + v, 0) / 2560;
      const rms = Math.sqrt(snapshot.reduce((s, v) => s + (v - mean) ** 2, 0) / 2560);
      expect(channels[0]!.blocks[i]!.accelerationRmsMPerS2).toBeCloseTo(rms, 10);
    }
    expect(channels[0]!.velocityRmsMmPerS).toBeNull();
  });

  it('gives no all-clear where nothing could be judged', async () => {
    const noise = gaussianNoise(3, 1, 3 * 3200);
    const cases = [
      await measureFile(store([new Float64Array([0.5])]), TWO_G),
      await measureFile(store([new Float64Array(3 * 3200)]), TWO_G),
      await measureFile(store([noise]), { ...TWO_G, speedRpm: 1e9 }),
    ];
    for (const { channels } of cases)
      expect(channels[0]).toMatchObject({ verdict: 'not-covered', findings: [] });
  });
});
