import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { alikeSeconds } from '../../../collector/inquiry/alike-seconds.ts';
import { answer, type PeerRun } from '../../../collector/inquiry/index.ts';
import { gaussian } from '../../../dashboard/virtual/synth/random.ts';
import { encodeSamples, wavBytes } from '../../support/wav-bytes.ts';

const START_S = 1_760_000_000;
const ms = (s: number) => (START_S + s) * 1000;
const RATE = 3200;
const SECONDS = 40;
/** Speed by the second: the first half at 30 km/h, the second at 60. */
const slowThenFast = (s: number) => (s < 20 ? 30 : 60);
const fastThenSlow = (s: number) => (s < 20 ? 60 : 30);

describe('the same location on other assets', () => {
  let folder: string;
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'clampline-peers-'));
  });
  afterAll(() => rm(folder, { recursive: true }));

  let files = 0;
  /** White noise whose RMS grows with the speed as 30 km/h: 1, 60 km/h: 4 m/s², times `factor`. */
  async function run(
    assetName: string,
    speedAt: (s: number) => number,
    factor: number,
    told = true,
  ): Promise<PeerRun> {
    const noise = gaussian(100 + files);
    const samples = Float64Array.from({ length: RATE * SECONDS }, (_, i) => {
      const rms = factor * (speedAt(Math.floor(i / RATE)) / 30) ** 2;
      return (rms * noise()) / 100;
    });
    const path = join(folder, `${files}.wav`);
    const parts = { sampleRateHz: RATE, bits: 32, format: 3 };
    await writeFile(path, wavBytes(encodeSamples(samples, 32, 3), parts));
    const seconds = Array.from({ length: SECONDS }, (_, s) => s);
    return {
      assetName,
      runId: ++files,
      source: {
        kind: 'files',
        files: [
          {
            path,
            startMs: ms(0),
            frames: null,
            sampleRateHz: RATE,
            fullScaleMPerS2: 100,
            timeUncertaintyMs: 0,
            clipped: [],
            places: [
              { locationId: 1, name: 'pinion', board: path, channels: [{ channel: 0, axis: 'single' }] },
            ],
          },
        ],
      },
      span: { fromMs: ms(0), toMs: ms(SECONDS) },
      conditions: told
        ? [{ quantity: 'roadSpeedKmH', atMs: seconds.map(ms), value: seconds.map(speedAt) }]
        : [],
    };
  }

  it('is held against them over seconds of the same speed, in whatever order these were driven', async () => {
    const own = await run('Bus 1', slowThenFast, 1);
    const marks = [{ atMs: ms(24), endMs: ms(36) }];
    const peers = [await run('Bus 2', fastThenSlow, 1), await run('Bus 3', fastThenSlow, 1)];
    const found = await answer('peers', { own: { ...own, marks }, peers });
    // Noise was marked at 60 km/h only: 13 s, each with a second of the others at 60 km/h. All are alike by construction.
    expect(found.assets.map(({ seconds, compared }) => [seconds, compared])).toEqual([
      [13, ['roadSpeedKmH']],
      [13, ['roadSpeedKmH']],
    ]);
    for (const { differenceDb, standing } of found.bands) {
      expect(standing).toBe('alike');
      // 13 s of a third octave at 40 Hz, 9 Hz wide: 0.4 dB, three levels joined; 12 dB by the speed would show.
      expect(Math.abs(differenceDb)).toBeLessThan(3);
    }
    expect(found.notes).toEqual(['Of this run the seconds marked as noise are compared.']);
  });

  it('stands out where it is 30 dB louder at the same speed', async () => {
    const own = await run('Bus 1', slowThenFast, 32);
    const peers = [await run('Bus 2', fastThenSlow, 1), await run('Bus 3', fastThenSlow, 1)];
    const { bands, sentence } = await answer('peers', { own, peers });
    const middle = bands.find(({ nominalHz }) => nominalHz === 500)!;
    expect(middle.differenceDb).toBeCloseTo(20 * Math.log10(32), 0);
    expect(middle.standing).toBe('above');
    expect(sentence).toMatch(/^Louder than its peers in/);
  });

  it('leaves out whoever was never driven so, with the reason, and says where the drive is not known', async () => {
    const own = await run('Bus 1', () => 60, 1);
    const other = await run('Bus 2', () => 30, 1);
    const [third, fourth] = [await run('Bus 3', () => 60, 1), await run('Bus 4', () => 60, 1, false)];
    const found = await answer('peers', { own, peers: [other, third, fourth] });
    expect(found.leftOut).toEqual([
      { assetName: 'Bus 2', runId: other.runId, reason: 'only 0 of its seconds were driven alike' },
    ]);
    expect(found.notes[0]).toMatch(/not known on both sides for Bus 4/);
    await expect(answer('peers', { own, peers: [other, third] })).rejects.toThrow(
      /^1 other asset was measured here.*left out: Bus 2 \(run \d+\): only 0 of its seconds were driven alike$/,
    );
  });
});

describe('seconds driven alike', () => {
  const told = (quantity: string, value: number[]) => ({
    quantity,
    atMs: value.map((_, s) => 1000 * s),
    value,
  });

  it('pairs each second once with the nearest, gear by gear, and only within what counts as alike', () => {
    const own = {
      seconds: [0, 1, 2],
      conditions: [told('roadSpeedKmH', [50, 52, 90]), told('gear', [3, 4, 4])],
    };
    const peer = {
      seconds: [0, 1, 2, 3],
      conditions: [told('roadSpeedKmH', [54, 49, 51, 52]), told('gear', [3, 3, 4, 4])],
    };
    expect(alikeSeconds(own, peer)).toEqual({
      own: [0, 1],
      peer: [1, 3],
      compared: ['gear', 'roadSpeedKmH'],
    });
  });

  it('pairs by load too, and leaves out seconds for which a value is missing', () => {
    const own = { seconds: [0, 9], conditions: [told('engineLoadPercent', [80])] };
    const peer = { seconds: [0, 1], conditions: [told('engineLoadPercent', [10, 70])] };
    expect(alikeSeconds(own, peer)).toMatchObject({ own: [0], peer: [1] });
  });
});
