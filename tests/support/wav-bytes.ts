/** Builds WAV files for tests, whole or hurt on purpose. */

export interface WavParts {
  sampleRateHz?: number;
  channelCount?: number;
  bits?: number;
  /** Format tag: 1 PCM, 3 float. */
  format?: number;
  extensible?: boolean;
  /** Chunks before the samples: name and body. */
  before?: [string, Buffer][];
  /** Size written into the data chunk's header, instead of the true one. */
  statedBytes?: number;
}

export function wavBytes(data: Buffer, parts: WavParts = {}): Buffer {
  const { sampleRateHz = 3200, channelCount = 1, bits = 16, format = 1 } = parts;
  const fmt = Buffer.alloc(parts.extensible ? 40 : 16);
  const frameBytes = (channelCount * bits) / 8;
  fmt.writeUInt16LE(parts.extensible ? 0xfffe : format, 0);
  fmt.writeUInt16LE(channelCount, 2);
  fmt.writeUInt32LE(sampleRateHz, 4);
  fmt.writeUInt32LE(sampleRateHz * frameBytes, 8);
  fmt.writeUInt16LE(frameBytes, 12);
  fmt.writeUInt16LE(bits, 14);
  if (parts.extensible) {
    fmt.writeUInt16LE(22, 16);
    fmt.writeUInt16LE(bits, 18);
    fmt.writeUInt16LE(format, 24);
  }
  const dataHeader = Buffer.alloc(8);
  dataHeader.write('data', 'latin1');
  dataHeader.writeUInt32LE(parts.statedBytes ?? data.length, 4);
  const chunks = [...(parts.before ?? []), ['fmt ', fmt] as [string, Buffer]].map(([name, body]) =>
    chunk(name, body),
  );
  const body = Buffer.concat([Buffer.from('WAVE'), ...chunks, dataHeader, data]);
  const riff = Buffer.alloc(8);
  riff.write('RIFF', 'latin1');
  riff.writeUInt32LE(body.length, 4);
  return Buffer.concat([riff, body]);
}

function chunk(name: string, body: Buffer): Buffer {
  const header = Buffer.alloc(8);
  header.write(name, 'latin1');
  header.writeUInt32LE(body.length, 4);
  return Buffer.concat([header, body, Buffer.alloc(body.length % 2)]);
}

/** Samples of full scale 1, channels interleaved, as `bits` of PCM or float. */
export function encodeSamples(samples: ArrayLike<number>, bits: number, format = 1): Buffer {
  const bytes = Buffer.alloc((samples.length * bits) / 8);
  for (let i = 0; i < samples.length; i++) {
    const at = (i * bits) / 8;
    if (format === 3) {
      if (bits === 32) bytes.writeFloatLE(samples[i]!, at);
      else bytes.writeDoubleLE(samples[i]!, at);
    } else {
      const steps = 2 ** (bits - 1);
      bytes.writeIntLE(Math.max(-steps, Math.min(steps - 1, Math.round(samples[i]! * steps))), at, bits / 8);
    }
  }
  return bytes;
}
