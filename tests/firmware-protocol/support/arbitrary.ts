import fc from 'fast-check';
import { AXIS_NAMES, type SamplePacket } from '../../../firmware-protocol/index.ts';

const u32 = fc.nat({ max: 0xffffffff });
const exact = fc.bigInt({ min: 0n, max: 2n ** 53n - 1n });
const int16 = fc.integer({ min: -32768, max: 32767 });

/** Samples of every character: silence, small and large noise, smooth curves, lone impulses. */
const samples = (channels: number, frames: number) =>
  fc.array(
    fc.oneof(
      fc.constant(0).map((v) => new Int16Array(frames).fill(v)),
      fc.array(int16, { minLength: frames, maxLength: frames }).map((v) => Int16Array.from(v)),
      fc
        .tuple(fc.array(fc.integer({ min: -9, max: 9 }), { minLength: frames, maxLength: frames }), int16)
        .map(([noise, offset]) => Int16Array.from(noise, (v) => v + offset)),
      fc
        .tuple(fc.double({ min: 0.001, max: 3, noNaN: true }), fc.nat({ max: 32767 }))
        .map(([step, size]) => Int16Array.from({ length: frames }, (_, i) => Math.sin(i * step) * size)),
      fc.tuple(fc.nat({ max: frames - 1 }), int16).map(([at, value]) => {
        const impulse = new Int16Array(frames);
        impulse[at] = value;
        return impulse;
      }),
    ),
    { minLength: channels, maxLength: channels },
  );

export const samplePacket: fc.Arbitrary<SamplePacket> = fc
  .tuple(fc.integer({ min: 1, max: 4 }), fc.integer({ min: 1, max: 200 }))
  .chain(([channels, frames]) =>
    fc.record({
      nodeId: fc.bigInt({ min: 0n, max: 2n ** 64n - 1n }).map((id) => id.toString(16).padStart(16, '0')),
      bootId: u32,
      sequence: u32,
      firstSample: exact,
      nodeClockUs: exact,
      timeSource: fc.constantFrom(0 as const, 1 as const, 2 as const),
      captureMode: fc.constantFrom(0 as const, 1 as const, 2 as const),
      nominalRateHz: fc.integer({ min: 100, max: 200_000_000 }).map((v) => v / 1e3),
      fullScaleMPerS2: u32.map((v) => v / 1e6),
      flags: fc.nat({ max: 0xffff }),
      channels: fc.array(fc.record({ sensor: fc.nat({ max: 15 }), axis: fc.constantFrom(...AXIS_NAMES) }), {
        minLength: channels,
        maxLength: channels,
      }),
      samples: samples(channels, frames),
    }),
  );
