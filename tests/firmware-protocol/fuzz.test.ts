import { describe, expect, it } from 'vitest';
import { MAX_SAMPLES } from '../../firmware-protocol/index.ts';
import { Kind } from '../../firmware-protocol/layout.ts';
import { validVectors } from './support/examples.ts';
import { decodeFields } from './support/fields.ts';
import { hostileBytes, randomSource } from './support/hostile.ts';

/** The long run: `FUZZ_RUNS=10000000 npx vitest run tests/firmware-protocol/fuzz.test.ts`. */
const runs = Number(process.env['FUZZ_RUNS'] ?? 50_000);
const seed = Number(process.env['FUZZ_SEED'] ?? 20_250_101);
const KINDS = Object.values(Kind);
const MEGABYTE = 1024 * 1024;

describe('hostile bytes', () => {
  it(`${runs} of them give a message or a code, and leave no memory behind`, { timeout: 0 }, () => {
    const random = randomSource(seed);
    const seeds = validVectors().map((v) => Uint8Array.from(Buffer.from(v.hex, 'hex')));
    const refused = new Map<number, number>();
    let read = 0;
    let before = 0;
    for (let run = 0; run < runs; run++) {
      if (run === runs >> 2) before = process.memoryUsage().heapUsed;
      const bytes = hostileBytes(seeds, random);
      // Mostly as the kind it claims to be, else every input would end at that check.
      const kind = random(8) === 0 ? KINDS[random(KINDS.length)]! : (bytes[3] ?? 0);
      const decoded = decodeFields(KINDS.includes(kind as Kind) ? kind : Kind.Samples, bytes);
      if (typeof decoded === 'number') refused.set(decoded, (refused.get(decoded) ?? 0) + 1);
      else read++;
      if (Array.isArray(decoded) && kind === Kind.Samples) {
        const values = decoded.at(-1) as number[];
        if (values.length > MAX_SAMPLES || values.length > 8 * bytes.length)
          throw new Error(`run ${run} grew`);
      }
    }
    const grownMb = (process.memoryUsage().heapUsed - before) / MEGABYTE;
    console.log(
      `${runs} hostile inputs, seed ${seed}: ${read} read, refused by code`,
      Object.fromEntries(refused),
    );
    // The run must have reached every check, or it proves little.
    expect([...refused.keys()].sort((a, b) => b - a)).toEqual([-1, -2, -3, -4, -5, -6, -7, -8]);
    expect(read).toBeGreaterThan(runs / 100);
    // Well above what the collector lets lie about, well below what a leak of one object a run would be.
    expect(grownMb).toBeLessThan(100);
  });
});
