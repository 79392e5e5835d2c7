import { describe, expect, it } from 'vitest';
import { decodeSamplePacket, encodeSamplePacket } from '../../firmware-protocol/index.ts';
import { flacBytes, openDataPresent, openRecordings, packetsOf, wireBytes } from './support/recordings.ts';
import { missing } from './support/tools.ts';

const absent = openDataPresent ? missing('flac') : 'skipped: open data not present';

describe.skipIf(absent !== null)(`size on real recordings${absent === null ? '' : ` (${absent})`}`, () => {
  const recordings = absent === null ? openRecordings() : [];
  const flac = recordings.map(flacBytes);
  const sum = (values: number[]) => values.reduce((a, b) => a + b, 0);

  it.each([512, 1024])('is within 5 % of flac -5, packets of %d frames with all they carry', (frames) => {
    expect(recordings.length).toBeGreaterThan(20);
    const wire = recordings.map((recording) => wireBytes(recording, frames));
    expect(sum(wire) / sum(flac)).toBeLessThan(1.05);
    // No recording far off, either: one channel alone pays the header by itself.
    wire.forEach((bytes, index) => {
      expect(bytes / flac[index]!, recordings[index]!.name).toBeLessThan(frames === 512 ? 1.09 : 1.05);
    });
  });

  it('gives every sample back', () => {
    for (const recording of recordings.slice(0, 3)) {
      for (const packet of packetsOf(recording, 512))
        expect(decodeSamplePacket(encodeSamplePacket(packet))).toEqual({ ok: true, packet });
    }
  });
});
