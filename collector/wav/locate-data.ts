import type { FileHandle } from 'node:fs/promises';
import { parseFormatChunk, type WavFormat } from './format-chunk.ts';
import { WavError } from './wav-error.ts';

export interface WavLayout {
  format: WavFormat;
  dataOffset: number;
  /** Bytes of samples that are there, and how many the header promises (null: it does not say). */
  dataBytes: number;
  promisedBytes: number | null;
}

const CHUNK_HEADER_BYTES = 8;
const LARGEST_FORMAT_CHUNK = 4096;
/** Written by programs that stream, or by a recorder that lost power before it came back to fill it in. */
const SIZE_UNKNOWN = 0xffffffff;

/** Walks the chunks of a RIFF file until the samples. The overall RIFF size is not used: many writers get it wrong. */
export async function locateData(file: FileHandle, path: string, fileBytes: number): Promise<WavLayout> {
  if (fileBytes === 0) {
    throw new WavError('WAV_EMPTY', path, 0, 'the file is empty', 'Copy or export the recording again.');
  }
  const start = await readAt(file, 0, 12);
  checkRiff(start, path);
  let format: WavFormat | undefined;
  let offset = 12;
  while (offset + CHUNK_HEADER_BYTES <= fileBytes) {
    const header = await readAt(file, offset, CHUNK_HEADER_BYTES);
    const name = header.toString('latin1', 0, 4);
    const size = header.readUInt32LE(4);
    const body = offset + CHUNK_HEADER_BYTES;
    if (name === 'fmt ') {
      format = parseFormatChunk(await readAt(file, body, Math.min(size, LARGEST_FORMAT_CHUNK)), path, body);
    } else if (name === 'data') {
      if (format === undefined) {
        const what = 'samples come before any format chunk';
        throw new WavError('WAV_BAD_HEADER', path, offset, what, 'Export the recording again.');
      }
      const there = fileBytes - body;
      const open = size === SIZE_UNKNOWN || (size === 0 && there > 0);
      return {
        format,
        dataOffset: body,
        dataBytes: open ? there : Math.min(size, there),
        promisedBytes: open ? null : size,
      };
    }
    // Chunks begin at even bytes.
    offset = body + size + (size % 2);
  }
  const missing = format === undefined ? 'a format chunk' : 'any samples';
  throw new WavError(
    'WAV_NO_SAMPLES',
    path,
    Math.min(offset, fileBytes),
    `the file ends before ${missing}`,
    'The copy or the recording was cut short: copy or export it again.',
  );
}

function checkRiff(start: Buffer, path: string): void {
  const kind = start.toString('latin1', 0, 4);
  const form = start.toString('latin1', 8, 12);
  if (kind === 'RIFF' && form === 'WAVE') return;
  if (kind === 'RF64' || kind === 'BW64' || kind === 'RIFX') {
    const what = `this is a WAV file of the kind ${kind}, which is not read`;
    throw new WavError(
      'WAV_UNSUPPORTED',
      path,
      0,
      what,
      'Convert it to plain RIFF WAV, in parts under 4 GiB.',
    );
  }
  const what = start.length < 12 ? `the file has only ${start.length} bytes` : 'this is not a WAV file';
  throw new WavError('WAV_NOT_A_WAV', path, 0, what, 'Give a WAV recording (RIFF, PCM or float).');
}

async function readAt(file: FileHandle, offset: number, length: number): Promise<Buffer> {
  const { buffer, bytesRead } = await file.read(Buffer.alloc(length), 0, length, offset);
  return buffer.subarray(0, bytesRead);
}
