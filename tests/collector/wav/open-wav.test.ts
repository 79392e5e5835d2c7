import { chmodSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openWav } from '../../../collector/wav/open-wav.ts';
import { WavError } from '../../../collector/wav/wav-error.ts';
import { uniform } from '../../support/signals.ts';
import { encodeSamples, wavBytes } from '../../support/wav-bytes.ts';

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'wav-'));
});
afterAll(() => rmSync(folder, { recursive: true }));

let files = 0;
function store(bytes: Buffer): string {
  const path = join(folder, `${++files}.wav`);
  writeFileSync(path, bytes);
  return path;
}

async function readAll(path: string, framesPerChunk: number, allowTruncated = false): Promise<number[][]> {
  const wav = await openWav(path, { allowTruncated });
  const channels: number[][] = Array.from({ length: wav.channelCount }, () => []);
  try {
    for await (const chunk of wav.chunks(framesPerChunk)) {
      chunk.forEach((samples, c) => {
        channels[c]!.push(...samples);
      });
    }
  } finally {
    await wav.close();
  }
  expect(channels[0]!.length).toBe(wav.frameCount);
  return channels;
}

async function errorOf(path: string, framesPerChunk = 100): Promise<WavError> {
  const error = await readAll(path, framesPerChunk).then(
    () => null,
    (e) => e,
  );
  expect(error).toBeInstanceOf(WavError);
  expect((error as WavError).message).toContain(path);
  expect((error as WavError).remedy.length).toBeGreaterThan(10);
  return error as WavError;
}

const next = uniform(1);
const frames = 500;

describe('reads every kind of sample', () => {
  const kinds = [
    ['16-bit PCM', 16, 1],
    ['24-bit PCM', 24, 1],
    ['32-bit PCM', 32, 1],
    ['32-bit float', 32, 3],
    ['64-bit float', 64, 3],
  ] as const;
  const cases = kinds.flatMap((kind) => [1, 2, 3, 7].map((channels) => [...kind, channels] as const));
  it.each(cases)('%s (%i bits, format %i), %i channels', async (_, bits, format, channelCount) => {
    const values = Array.from({ length: frames * channelCount }, () => 2 * next() - 1);
    values.splice(0, 2, -1, 1);
    for (const extensible of [false, true]) {
      const data = encodeSamples(values, bits, format);
      const path = store(wavBytes(data, { bits, format, channelCount, extensible }));
      const channels = await readAll(path, 37);
      const step = format === 3 ? (bits === 32 ? 2 ** -24 : 0) : 2 ** (1 - bits);
      for (let i = 0; i < values.length; i++) {
        const actual = channels[i % channelCount]![Math.floor(i / channelCount)]!;
        expect(Math.abs(actual - values[i]!)).toBeLessThanOrEqual(step);
      }
      expect(channels[0]![0]).toBe(-1);
    }
  });

  it('keeps exact steps and signs: one step is 2^-15, 2^-23, 2^-31', async () => {
    for (const bits of [16, 24, 32]) {
      const step = 2 ** (1 - bits);
      const path = store(wavBytes(encodeSamples([0, step, -step, 100 * step, 1 - step, -1], bits), { bits }));
      expect(await readAll(path, 4)).toEqual([[0, step, -step, 100 * step, 1 - step, -1]]);
    }
  });

  it('floats beyond full scale stay what they are', async () => {
    const path = store(wavBytes(encodeSamples([1.5, -3], 64, 3), { bits: 64, format: 3 }));
    expect(await readAll(path, 10)).toEqual([[1.5, -3]]);
  });

  it('steps over chunks it does not know, odd ones with their padding, and ignores what follows', async () => {
    const data = encodeSamples([0.5, -0.5], 16);
    const whole = wavBytes(data, {
      before: [
        ['LIST', Buffer.from('odd')],
        ['fact', Buffer.alloc(4)],
      ],
    });
    const path = store(Buffer.concat([whole, Buffer.from('LIST\x02\0\0\0xx')]));
    expect(await readAll(path, 10)).toEqual([[0.5, -0.5]]);
  });

  it('the size of the pieces changes nothing', async () => {
    const path = store(
      wavBytes(encodeSamples(Array.from({ length: 300 }, next), 24), { bits: 24, channelCount: 3 }),
    );
    const expected = await readAll(path, 1000);
    for (const size of [1, 7, 99, 100, 101]) expect(await readAll(path, size)).toEqual(expected);
  });
});

describe('refuses', () => {
  const good = wavBytes(encodeSamples(Array.from({ length: 3200 }, next), 16), { channelCount: 2 });
  const patched = (offset: number, value: number, bytes = 2) => {
    const copy = Buffer.from(good);
    copy.writeUIntLE(value, offset, bytes);
    return copy;
  };

  it('a file that is not there, and a folder', async () => {
    const missing = await errorOf(join(folder, 'missing.wav'));
    expect([missing.code, missing.byteOffset]).toEqual(['WAV_UNREADABLE', null]);
    expect(missing.message).toContain('no such file');
    mkdirSync(join(folder, 'folder.wav'));
    expect((await errorOf(join(folder, 'folder.wav'))).message).toContain('not a file');
  });

  it.skipIf(process.getuid?.() === 0)('a file without the right to read it', async () => {
    const path = store(good);
    chmodSync(path, 0);
    expect((await errorOf(path)).message).toContain('no right');
  });

  it.each<[string, Buffer, string, number]>([
    ['an empty file', Buffer.alloc(0), 'WAV_EMPTY', 0],
    ['a few bytes', Buffer.from('RIFF'), 'WAV_NOT_A_WAV', 0],
    ['another kind of file', Buffer.from('\x89PNG\r\n\x1a\n-----------'), 'WAV_NOT_A_WAV', 0],
    ['64-bit WAV', Buffer.concat([Buffer.from('RF64'), good.subarray(4)]), 'WAV_UNSUPPORTED', 0],
    ['big-endian WAV', Buffer.concat([Buffer.from('RIFX'), good.subarray(4)]), 'WAV_UNSUPPORTED', 0],
    ['compressed samples', patched(20, 2), 'WAV_UNSUPPORTED', 20],
    ['zero channels', patched(22, 0), 'WAV_BAD_HEADER', 22],
    ['a rate of zero', patched(24, 0, 4), 'WAV_BAD_HEADER', 24],
    ['frames that do not fit', patched(32, 3), 'WAV_BAD_HEADER', 32],
    ['12 bits', patched(34, 12), 'WAV_UNSUPPORTED', 34],
    ['8 bits', patched(34, 8), 'WAV_UNSUPPORTED', 34],
    ['16-bit float', patched(20, 3), 'WAV_UNSUPPORTED', 34],
    ['a format chunk cut short', good.subarray(0, 30), 'WAV_BAD_HEADER', 20],
    ['an end before the samples', good.subarray(0, 36), 'WAV_NO_SAMPLES', 36],
    ['an end in the header of the samples', good.subarray(0, 40), 'WAV_NO_SAMPLES', 36],
    ['no sample at all', good.subarray(0, 44), 'WAV_NO_SAMPLES', 44],
    ['less than a frame', good.subarray(0, 47), 'WAV_NO_SAMPLES', 44],
    ['a data chunk of size 0', wavBytes(Buffer.alloc(0)), 'WAV_NO_SAMPLES', 44],
    ['samples before the format', Buffer.from('RIFF\x10\0\0\0WAVEdata\x04\0\0\0abcd'), 'WAV_BAD_HEADER', 12],
  ])('%s', async (_, bytes, code, byteOffset) => {
    const error = await errorOf(store(bytes));
    expect([error.code, error.byteOffset]).toEqual([code, byteOffset]);
  });

  it('a sample that is no number, with its place', async () => {
    const samples = encodeSamples([0, 0.1, 0.2, Number.NaN, 0.4, 0.5], 32, 3);
    const error = await errorOf(store(wavBytes(samples, { bits: 32, format: 3, channelCount: 2 })), 1);
    expect([error.code, error.byteOffset]).toEqual(['WAV_NOT_A_NUMBER', 44 + 12]);
    expect(error.message).toContain('channel 2');
  });
});

describe('a recording cut short', () => {
  const whole = wavBytes(
    encodeSamples(
      Array.from({ length: 6400 }, () => 0.25),
      16,
    ),
    { channelCount: 2 },
  );

  it('is refused, with the seconds that are there, or read as far as it goes when allowed', async () => {
    const path = store(whole.subarray(0, 44 + 4 * 1600));
    const error = await errorOf(path);
    expect([error.code, error.byteOffset]).toEqual(['WAV_TRUNCATED', 44 + 4 * 1600]);
    expect(error.message).toContain('0.500 s are there, its header promises 1.000 s');
    expect(error.remedy).toContain('--allow-truncated');
    const channels = await readAll(path, 1000, true);
    expect(channels.map((c) => c.length)).toEqual([1600, 1600]);
  });

  it('in the middle of a frame loses that frame alone', async () => {
    const path = store(whole.subarray(0, 44 + 4 * 1600 + 3));
    expect((await errorOf(path)).code).toBe('WAV_TRUNCATED');
    expect((await readAll(path, 1000, true))[0]!.length).toBe(1600);
  });

  it('by a recorder that never finished the header counts too', async () => {
    const data = encodeSamples([0.25, 0.5], 16);
    for (const statedBytes of [0, 0xffffffff]) {
      const path = store(wavBytes(data, { statedBytes }));
      const error = await errorOf(path);
      expect(error.code).toBe('WAV_TRUNCATED');
      expect(error.message).toContain('never finished');
      expect(await readAll(path, 10, true)).toEqual([[0.25, 0.5]]);
    }
  });

  it('while it is read is noticed', async () => {
    const path = store(whole);
    const wav = await openWav(path);
    const chunks = wav.chunks(100);
    await chunks.next();
    writeFileSync(path, whole.subarray(0, 44 + 4 * 150));
    await expect(chunks.next()).rejects.toMatchObject({ code: 'WAV_TRUNCATED', byteOffset: 44 + 4 * 150 });
    await wav.close();
  });
});
