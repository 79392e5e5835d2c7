/** WAV files (Multimedia Programming Interface and Data Specifications 1.0, IBM and Microsoft, 1991). */

const HEADER_BYTES = 44;

/** `channels`: one array per channel, equally long; values already rounded to 16 bits. */
export function wavBytes(channels: readonly Int16Array[], sampleRateHz: number): Uint8Array {
  return interleaved(channels, sampleRateHz, { tag: 1, sampleBytes: 2 }, (bytes, value, at) =>
    bytes.writeInt16LE(value, at),
  );
}

/** The same as 32-bit floats. */
export function floatWavBytes(channels: readonly Float64Array[], sampleRateHz: number): Uint8Array {
  return interleaved(channels, sampleRateHz, { tag: 3, sampleBytes: 4 }, (bytes, value, at) =>
    bytes.writeFloatLE(value, at),
  );
}

function interleaved(
  channels: readonly ArrayLike<number>[],
  sampleRateHz: number,
  { tag, sampleBytes }: { tag: number; sampleBytes: number },
  write: (bytes: Buffer, value: number, at: number) => void,
): Uint8Array {
  const count = channels[0]?.length ?? 0;
  const frameBytes = sampleBytes * channels.length;
  const bytes = Buffer.alloc(HEADER_BYTES + count * frameBytes);
  bytes.write('RIFF', 0, 'latin1');
  bytes.writeUInt32LE(bytes.length - 8, 4);
  bytes.write('WAVEfmt ', 8, 'latin1');
  bytes.writeUInt32LE(16, 16);
  bytes.writeUInt16LE(tag, 20);
  bytes.writeUInt16LE(channels.length, 22);
  bytes.writeUInt32LE(Math.round(sampleRateHz), 24);
  bytes.writeUInt32LE(Math.round(sampleRateHz) * frameBytes, 28);
  bytes.writeUInt16LE(frameBytes, 32);
  bytes.writeUInt16LE(8 * sampleBytes, 34);
  bytes.write('data', 36, 'latin1');
  bytes.writeUInt32LE(count * frameBytes, 40);
  let at = HEADER_BYTES;
  for (let i = 0; i < count; i++) {
    for (const samples of channels) {
      write(bytes, samples[i]!, at);
      at += sampleBytes;
    }
  }
  return bytes;
}
