import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { AXIS_NAMES, encodeSamplePacket, type SamplePacket } from '../../../firmware-protocol/index.ts';

const folder = fileURLToPath(new URL('../../../../shared/open-data/', import.meta.url));

export const openDataPresent = existsSync(join(folder, 'index.json'));

export interface Recording {
  name: string;
  channels: number;
  /** Interleaved, as a sensor's FIFO gives them. */
  samples: Int16Array;
}

/** The real recordings of the open data sets (16-bit PCM, at most three channels). */
export function openRecordings(): Recording[] {
  const { recordings } = JSON.parse(readFileSync(join(folder, 'index.json'), 'utf8'));
  return recordings.map(({ file, channels }: { file: string; channels: unknown[] }) => {
    const bytes = readFileSync(join(folder, file));
    const data = bytes.indexOf('data', 12, 'latin1');
    const length = bytes.readUInt32LE(data + 4);
    const samples = new Int16Array(Uint8Array.from(bytes.subarray(data + 8, data + 8 + length)).buffer);
    return { name: file, channels: channels.length, samples };
  });
}

/** Bytes that `flac -5` needs for all channels in one stream, without padding and seek table. */
export function flacBytes({ channels, samples }: Recording): number {
  const scratch = mkdtempSync(join(tmpdir(), 'clampline-flac-'));
  try {
    const raw = join(scratch, 'samples.raw');
    const out = join(scratch, 'samples.flac');
    writeFileSync(raw, new Uint8Array(samples.buffer));
    const format = [
      '--force-raw-format',
      '--endian=little',
      '--sign=signed',
      '--bps=16',
      '--sample-rate=48000',
    ];
    const plain = ['--no-padding', '--no-seektable', '--silent', `--channels=${channels}`];
    execFileSync('flac', ['-5', ...plain, ...format, '-o', out, raw]);
    return statSync(out).size;
  } finally {
    rmSync(scratch, { recursive: true, force: true });
  }
}

/** The recording cut into sample packets of so many frames, each on its own. */
export function packetsOf({ channels, samples }: Recording, frames: number): SamplePacket[] {
  const packets: SamplePacket[] = [];
  const total = samples.length / channels;
  for (let first = 0; first < total; first += frames) {
    const length = Math.min(frames, total - first);
    packets.push({
      nodeId: '0000000000000001',
      bootId: 1,
      sequence: packets.length,
      firstSample: BigInt(first),
      nodeClockUs: 0n,
      timeSource: 0,
      captureMode: 0,
      nominalRateHz: 3200,
      fullScaleMPerS2: 160,
      flags: 0,
      channels: Array.from({ length: channels }, (_, sensor) => ({ sensor, axis: AXIS_NAMES[0] })),
      samples: Array.from({ length: channels }, (_, channel) =>
        Int16Array.from({ length }, (_, i) => samples[(first + i) * channels + channel]!),
      ),
    });
  }
  return packets;
}

/** Bytes of all packets, headers and checksums included. */
export function wireBytes(recording: Recording, frames: number): number {
  return packetsOf(recording, frames).reduce((sum, packet) => sum + encodeSamplePacket(packet).length, 0);
}
