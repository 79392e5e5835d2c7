import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it, onTestFinished } from 'vitest';
import { answer } from '../../../collector/inquiry/index.ts';
import { gaussian } from '../../../dashboard/virtual/synth/random.ts';
import { encodeSamples, wavBytes } from '../../support/wav-bytes.ts';

it.each([3161, 6362, 12_000])(
  'a spectrogram of noise at %i samples/s has no empty row',
  async (sampleRateHz) => {
    const folder = await mkdtemp(join(tmpdir(), 'clampline-rows-'));
    onTestFinished(() => rm(folder, { recursive: true }));
    const path = join(folder, 'noise.wav');
    const noise = gaussian(3);
    const samples = Float64Array.from({ length: 4 * sampleRateHz }, () => noise() / 10);
    await writeFile(path, wavBytes(encodeSamples(samples, 16), { sampleRateHz }));
    const { columns, rows, levels } = await answer('picture', {
      source: {
        kind: 'files',
        files: [
          {
            path,
            startMs: 0,
            frames: null,
            sampleRateHz,
            fullScaleMPerS2: 10,
            timeUncertaintyMs: 0,
            clipped: [],
            places: [
              { locationId: 1, name: 'pinion', board: 'a', channels: [{ channel: 0, axis: 'single' }] },
            ],
          },
        ],
      },
      span: { fromMs: 0, toMs: 4_000 },
    });
    const middle = Math.floor(columns / 2);
    const column = levels.slice(middle * rows, (middle + 1) * rows);
    expect(column.filter((level) => level === 0)).toHaveLength(0);
  },
);
