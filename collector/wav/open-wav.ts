import { type FileHandle, open } from 'node:fs/promises';
import { decodeFrames } from './decode-frames.ts';
import type { WavFormat } from './format-chunk.ts';
import { locateData, type WavLayout } from './locate-data.ts';
import { WavError } from './wav-error.ts';

/**
 * A WAV file open for reading. An own reader: the libraries at hand either load the whole file (recordings last
 * hours) or take a cut file for a whole one without a word.
 */
export interface WavRecording {
  readonly sampleRateHz: number;
  readonly channelCount: number;
  readonly bitsPerSample: number;
  /** Frames that can be read. */
  readonly frameCount: number;
  /** The file holds less than its header promises, or the header makes no promise. */
  readonly truncated: boolean;
  /**
   * From frame 0 in pieces of at most `framesPerChunk`: one array per channel, digital full scale = 1.
   *
   * @throws WavError
   */
  chunks(framesPerChunk: number): AsyncGenerator<Float64Array[]>;
  close(): Promise<void>;
}

/**
 * @param options.allowTruncated reads what is there of a cut file instead of refusing it
 * @throws WavError
 */
export async function openWav(
  path: string,
  options: { allowTruncated?: boolean } = {},
): Promise<WavRecording> {
  const file = await openForReading(path);
  try {
    const layout = await locateData(file, path, (await file.stat()).size);
    const { format } = layout;
    const truncated = checkLength(layout, path, options.allowTruncated ?? false);
    const frameCount = Math.floor(layout.dataBytes / format.frameBytes);
    return {
      sampleRateHz: format.sampleRateHz,
      channelCount: format.channelCount,
      bitsPerSample: format.sampleBytes * 8,
      frameCount,
      truncated,
      chunks: (framesPerChunk) => readChunks(file, path, layout, frameCount, framesPerChunk),
      close: () => file.close(),
    };
  } catch (error) {
    await file.close();
    throw error;
  }
}

async function openForReading(path: string): Promise<FileHandle> {
  const unreadable = (what: string) =>
    new WavError('WAV_UNREADABLE', path, null, what, 'Check the path and the rights of the file.');
  let file: FileHandle;
  try {
    file = await open(path, 'r');
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code === 'ENOENT') throw unreadable('there is no such file');
    throw unreadable(code === 'EACCES' ? 'no right to read the file' : `the file cannot be opened: ${code}`);
  }
  if ((await file.stat()).isFile()) return file;
  await file.close();
  throw unreadable('this is not a file');
}

/** Whether the file is cut short; a cut file is refused unless that is allowed. */
function checkLength(layout: WavLayout, path: string, allowTruncated: boolean): boolean {
  const { format, dataOffset, dataBytes, promisedBytes } = layout;
  const end = dataOffset + dataBytes;
  const frames = Math.floor(dataBytes / format.frameBytes);
  if (frames === 0) {
    const remedy = 'Record or export it again.';
    throw new WavError('WAV_NO_SAMPLES', path, dataOffset, 'the file holds no samples', remedy);
  }
  const truncated = promisedBytes !== dataBytes || dataBytes % format.frameBytes !== 0;
  if (truncated && !allowTruncated) {
    const seconds = (frames / format.sampleRateHz).toFixed(3);
    const promise =
      promisedBytes === null
        ? 'its header was never finished'
        : `its header promises ${(promisedBytes / format.frameBytes / format.sampleRateHz).toFixed(3)} s`;
    throw new WavError(
      'WAV_TRUNCATED',
      path,
      end,
      `the recording is cut short: ${seconds} s are there, ${promise}`,
      `Copy it again, or measure the ${seconds} s that are there with --allow-truncated.`,
    );
  }
  return truncated;
}

async function* readChunks(
  file: FileHandle,
  path: string,
  { format, dataOffset }: WavLayout,
  frameCount: number,
  framesPerChunk: number,
): AsyncGenerator<Float64Array[]> {
  const bytes = Buffer.alloc(framesPerChunk * format.frameBytes);
  for (let frame = 0; frame < frameCount; frame += framesPerChunk) {
    const wanted = Math.min(framesPerChunk, frameCount - frame) * format.frameBytes;
    const offset = dataOffset + frame * format.frameBytes;
    const bytesRead = await readFully(file, bytes, wanted, offset);
    if (bytesRead < wanted) {
      const what = 'the file became shorter while it was read';
      throw new WavError(
        'WAV_TRUNCATED',
        path,
        offset + bytesRead,
        what,
        'Measure it when its writer is done.',
      );
    }
    const channels = decodeFrames(bytes.subarray(0, wanted), format);
    if (format.encoding === 'float') refuseNotANumber(channels, path, offset, format);
    yield channels;
  }
}

async function readFully(file: FileHandle, bytes: Buffer, wanted: number, offset: number): Promise<number> {
  let total = 0;
  while (total < wanted) {
    const { bytesRead } = await file.read(bytes, total, wanted - total, offset + total);
    if (bytesRead === 0) break;
    total += bytesRead;
  }
  return total;
}

function refuseNotANumber(channels: Float64Array[], path: string, offset: number, format: WavFormat): void {
  channels.forEach((samples, channel) => {
    const at = samples.findIndex((value) => !Number.isFinite(value));
    if (at < 0) return;
    throw new WavError(
      'WAV_NOT_A_NUMBER',
      path,
      offset + at * format.frameBytes + channel * format.sampleBytes,
      `channel ${channel + 1} holds a sample that is not a finite number`,
      'Mend or cut the recording at this place: no level can be given across it.',
    );
  });
}
