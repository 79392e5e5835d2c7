import { crc32c } from '../../../firmware-protocol/index.ts';

/** xorshift32: quick, and the same inputs for the same seed. */
export function randomSource(seed: number): (below: number) => number {
  let state = seed | 0 || 1;
  return (below) => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>> 0) % below;
  };
}

/** Writes a right checksum: otherwise nearly all damage would end at the first check. */
export function reseal(bytes: Uint8Array): Uint8Array {
  if (bytes.length < 4) return bytes;
  const end = bytes.length - 4;
  new DataView(bytes.buffer, bytes.byteOffset).setUint32(end, crc32c(bytes.subarray(0, end)), true);
  return bytes;
}

/** Noise, or `seeds[...]` cut, stretched and overwritten; half of the time with a right checksum again. */
export function hostileBytes(seeds: readonly Uint8Array[], random: (below: number) => number): Uint8Array {
  const shape = random(8);
  if (shape === 0) return Uint8Array.from({ length: random(300) }, () => random(256));
  const seed = seeds[random(seeds.length)]!;
  let length = seed.length;
  if (shape === 1) length = random(seed.length + 1);
  if (shape === 2) length = seed.length + random(16);
  const bytes = new Uint8Array(length);
  bytes.set(seed.subarray(0, Math.min(length, seed.length)));
  for (let hits = random(4); hits > 0 && length > 0; hits--) bytes[random(length)] = random(256);
  // The sample bytes themselves, where the bit stream lies.
  if (shape >= 6)
    for (let i = Math.min(length, 55); i < length - 4; i++) if (random(8) === 0) bytes[i] = random(256);
  return random(2) === 0 ? reseal(bytes) : bytes;
}
