import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { CommanderError } from 'commander';
import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from 'vitest';
import { measureCommand } from '../../../dashboard/station/measure-command.ts';
import { velocitySine } from '../../support/signals.ts';
import { encodeSamples, wavBytes } from '../../support/wav-bytes.ts';

let folder: string;
let recording: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'measure-command-'));
  recording = join(folder, 'fan.wav');
  const signal = velocitySine(50, 5, 1600, 4800).map((v) => v / (16 * 9.80665));
  writeFileSync(recording, wavBytes(encodeSamples(signal, 16), { sampleRateHz: 1600 }));
});
afterAll(() => rmSync(folder, { recursive: true }));
afterEach(() => {
  vi.restoreAllMocks();
});

/** Standard output of the command. */
async function run(...args: string[]): Promise<string> {
  let printed = '';
  vi.spyOn(process.stdout, 'write').mockImplementation((text) => {
    printed += text;
    return true;
  });
  vi.spyOn(process.stderr, 'write').mockImplementation(() => true);
  try {
    await measureCommand().exitOverride().parseAsync(args, { from: 'user' });
  } finally {
    vi.restoreAllMocks();
  }
  return printed;
}

describe('measure', () => {
  it('prints a table with units, the band, every flag spelt out and the caution', async () => {
    const text = await run(recording, '--full-scale', '16');
    expect(text).toMatch(/channel-1 +3\.000 +5(\.\d+)? /);
    expect(text).toContain('RMS mm/s');
    expect(text).toContain('Velocity band 10 to 625 Hz');
    expect(text).toMatch(/channel-1: band not covered: .*\(3 of 3 blocks\)/);
    expect(text).toContain('do not\njudge a vehicle');
    expect(text).not.toContain('\u001b');
  });

  it('prints JSON, and nothing else, with --json', async () => {
    const measured = JSON.parse(await run(recording, '--full-scale', '156.9064', '--unit', 'm/s2', '--json'));
    expect(measured.file).toBe(recording);
    expect(measured.channels[0].velocityRmsMmPerS).toBeCloseTo(5, 1);
    expect(measured.channels[0].blocks).toHaveLength(3);
  });

  it('takes a band, a noise density and joined snapshots', async () => {
    const slow = JSON.parse(await run(recording, '--full-scale', '16', '--band', '2-1000', '--json'));
    expect(slow.channels[0]).toMatchObject({ bandHz: [2, 625], velocityRmsMmPerS: null });
    const noisy = JSON.parse(
      await run(recording, '--full-scale', '16', '--noise-density', '20000', '--json'),
    );
    expect(noisy.channels[0].flags).toContain('below-noise-floor');
    const cut = JSON.parse(await run(recording, '--full-scale', '16', '--segment-samples', '800', '--json'));
    expect(cut.channels[0].blocks).toHaveLength(6);
  });

  it('without a full scale says what to pass', async () => {
    await expect(run(recording)).rejects.toMatchObject({
      code: 'BAD_SETTING',
      message: expect.stringContaining('scale'),
      remedy: expect.stringContaining('--full-scale 16 --unit g'),
    });
  });

  it.each([
    ['--full-scale', '0'],
    ['--full-scale', 'x'],
    ['--full-scale', '-2'],
    ['--full-scale', ''],
    ['--full-scale', '2', '--segment-samples', '1.5'],
    ['--full-scale', '2', '--noise-density', 'loud'],
  ])('refuses %s %s', async (...args) => {
    await expect(run(recording, ...args)).rejects.toMatchObject({ code: 'BAD_SETTING' });
  });

  it('refuses units and bands it does not know, and a missing file name', async () => {
    await expect(run(recording, '--full-scale', '2', '--unit', 'ft')).rejects.toBeInstanceOf(CommanderError);
    await expect(run(recording, '--full-scale', '2', '--band', '1-9')).rejects.toBeInstanceOf(CommanderError);
    await expect(run('--full-scale', '2')).rejects.toBeInstanceOf(CommanderError);
  });

  it('passes on what is wrong with a file', async () => {
    const missing = join(folder, 'none.wav');
    await expect(run(missing, '--full-scale', '2')).rejects.toMatchObject({ code: 'WAV_UNREADABLE' });
    const slow = join(folder, 'slow.wav');
    writeFileSync(slow, wavBytes(encodeSamples([0, 0.1], 16), { sampleRateHz: 20 }));
    await expect(run(slow, '--full-scale', '2')).rejects.toMatchObject({
      code: 'BAD_SETTING',
      message: expect.stringContaining('sample rate 20 Hz is too low'),
    });
  });
});
