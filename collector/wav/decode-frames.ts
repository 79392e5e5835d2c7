import type { WavFormat } from './format-chunk.ts';

/**
 * Takes interleaved frames apart: one array per channel, digital full scale = 1 (PCM runs from -1 to the last
 * step below 1; float may go beyond).
 */
export function decodeFrames(bytes: Buffer, format: WavFormat): Float64Array[] {
  const { channelCount, frameBytes, sampleBytes } = format;
  const frames = Math.floor(bytes.length / frameBytes);
  const read = sampleReader(bytes, format);
  return Array.from({ length: channelCount }, (_, channel) => {
    const samples = new Float64Array(frames);
    let at = channel * sampleBytes;
    for (let i = 0; i < frames; i++) {
      samples[i] = read(at);
      at += frameBytes;
    }
    return samples;
  });
}

function sampleReader(bytes: Buffer, { encoding, sampleBytes }: WavFormat): (at: number) => number {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (encoding === 'float') {
    return sampleBytes === 4 ? (at) => view.getFloat32(at, true) : (at) => view.getFloat64(at, true);
  }
  if (sampleBytes === 2) return (at) => view.getInt16(at, true) / 2 ** 15;
  if (sampleBytes === 3) return (at) => (view.getInt16(at + 1, true) * 256 + view.getUint8(at)) / 2 ** 23;
  return (at) => view.getInt32(at, true) / 2 ** 31;
}
