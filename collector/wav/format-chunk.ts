import { WavError } from './wav-error.ts';

/** How the samples of a WAV file are stored. */
export interface WavFormat {
  encoding: 'pcm' | 'float';
  channelCount: number;
  sampleRateHz: number;
  /** Bytes per sample of one channel, and per frame (one sample of every channel). */
  sampleBytes: number;
  frameBytes: number;
}

const MAX_SAMPLE_RATE_HZ = 1_000_000;
const PCM = 1;
const IEEE_FLOAT = 3;
/** The real format is the first two bytes of the sub-format identifier. */
const EXTENSIBLE = 0xfffe;
const PLAIN_BYTES = 16;
const EXTENSIBLE_BYTES = 40;
const SAMPLE_BYTES = { pcm: [2, 3, 4], float: [4, 8] };
const CONVERT = 'Convert it to 16, 24 or 32-bit PCM or 32 or 64-bit float WAV.';

/**
 * Reads the body of a `fmt ` chunk (Multimedia Programming Interface and Data Specifications 1.0, IBM and
 * Microsoft, 1991; WAVE_FORMAT_EXTENSIBLE after Microsoft's mmreg.h).
 *
 * @throws WavError
 */
export function parseFormatChunk(body: Buffer, path: string, byteOffset: number): WavFormat {
  const fail = (code: 'WAV_BAD_HEADER' | 'WAV_UNSUPPORTED', at: number, what: string, remedy: string) =>
    new WavError(code, path, byteOffset + at, what, remedy);
  if (body.length < PLAIN_BYTES) {
    const what = `the format chunk has ${body.length} bytes, at least ${PLAIN_BYTES} are needed`;
    throw fail('WAV_BAD_HEADER', 0, what, 'Export the recording again.');
  }
  const tag = body.readUInt16LE(0);
  const extended = tag === EXTENSIBLE && body.length >= EXTENSIBLE_BYTES;
  const format = extended ? body.readUInt16LE(24) : tag;
  if (format !== PCM && format !== IEEE_FLOAT) {
    const what = `samples are stored in format ${format}, neither PCM (1) nor float (3)`;
    throw fail('WAV_UNSUPPORTED', extended ? 24 : 0, what, CONVERT);
  }
  const encoding = format === PCM ? 'pcm' : 'float';
  const channelCount = body.readUInt16LE(2);
  if (channelCount === 0) {
    throw fail('WAV_BAD_HEADER', 2, 'the header states no channels', 'Export the recording again.');
  }
  const sampleRateHz = body.readUInt32LE(4);
  if (sampleRateHz === 0) {
    throw fail('WAV_BAD_HEADER', 4, 'the header states a sample rate of 0 Hz', 'Export the recording again.');
  }
  if (sampleRateHz > MAX_SAMPLE_RATE_HZ) {
    const what = `the header states ${sampleRateHz} Hz, more than any recorder of vibration takes`;
    throw fail('WAV_BAD_HEADER', 4, what, 'Export the recording again.');
  }
  const bits = body.readUInt16LE(14);
  const sampleBytes = bits / 8;
  if (!SAMPLE_BYTES[encoding].includes(sampleBytes)) {
    throw fail('WAV_UNSUPPORTED', 14, `${bits}-bit ${encoding} samples are not read`, CONVERT);
  }
  const frameBytes = body.readUInt16LE(12);
  if (frameBytes !== sampleBytes * channelCount) {
    const what = `${frameBytes} bytes per frame do not fit ${channelCount} channels of ${bits} bits`;
    throw fail('WAV_BAD_HEADER', 12, what, 'Export the recording again.');
  }
  return { encoding, channelCount, sampleRateHz, sampleBytes, frameBytes };
}
