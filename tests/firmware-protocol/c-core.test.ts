import { spawnSync } from 'node:child_process';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Kind } from '../../firmware-protocol/layout.ts';
import { validVectors } from './support/examples.ts';
import { decodeFields } from './support/fields.ts';
import { hostileBytes, randomSource } from './support/hostile.ts';
import { buildFolder, coreFolder, make, missing, replay } from './support/tools.ts';

const SLOW = 240_000;
const titled = (name: string, absent: string | null) => (absent === null ? name : `${name} (${absent})`);
const digests = (output: string) => output.split('\n').filter((line) => line.startsWith('digest'));

const noHost = missing('cc', 'make');
const noClang = noHost ?? missing('clang');
const noArm = noHost ?? missing('arm-none-eabi-gcc');
const noBoard = noArm ?? missing('qemu-system-arm');

const build = buildFolder();
afterAll(build.dispose);

describe.skipIf(noHost !== null)(titled('the C core on the host', noHost), () => {
  let output = '';
  beforeAll(async () => {
    output = await make(build.folder, 'test', 'tools');
  }, SLOW);

  it('passes its tests under AddressSanitizer and UBSan', () => {
    expect(output).toMatch(/\n\d{4,} checks passed, 0 failed\n/);
  });

  it('agrees with the TypeScript decoder on hostile bytes: same fields or same code', async () => {
    const random = randomSource(42);
    const kinds: number[] = [Kind.Samples, Kind.TimeAnswer, Kind.Command, Kind.Journaled];
    const seeds = validVectors()
      .filter((v) => kinds.includes(v.kind))
      .map((v) => Uint8Array.from(Buffer.from(v.hex, 'hex')));
    const inputs = Array.from({ length: 4000 }, () => {
      const bytes = hostileBytes(seeds, random);
      return { kind: kinds.includes(bytes[3] ?? 0) ? bytes[3]! : Kind.Samples, bytes };
    });
    const answers = await replay(
      `${build.folder}/replay`,
      inputs.map(({ kind, bytes }) => `decode ${kind} ${Buffer.from(bytes).toString('hex')}`),
    );
    inputs.forEach(({ kind, bytes }, index) => {
      expect(JSON.parse(answers[index]!), `input ${index}`).toEqual(decodeFields(kind, bytes));
    });
  });

  it.skipIf(noBoard !== null)(
    titled('passes the same tests on emulated Cortex-M0 and Cortex-M4 boards, with the same bytes', noBoard),
    async () => {
      const boards = await make(build.folder, 'qemu');
      expect(boards.match(/\n\d{4,} checks passed, 0 failed\n/g)).toHaveLength(2);
      const expected = digests(output);
      expect(expected.length).toBeGreaterThan(3);
      expect(digests(boards)).toEqual([...expected, ...expected]);
    },
    SLOW,
  );
});

describe('the C core as a library', () => {
  it.skipIf(noClang !== null)(titled('compiles strictly with gcc and clang', noClang), async () => {
    await make(build.folder, 'lib'); // every warning is an error: make fails
  });

  it.skipIf(noClang !== null)(
    titled('stands a short run of libFuzzer (the long one: make fuzz RUNS=10000000)', noClang),
    async () => {
      await make(build.folder, 'fuzz', 'RUNS=10000'); // a crash, a hang or a leak makes it fail
    },
    SLOW,
  );

  it.skipIf(noArm !== null)(
    titled('stays under 4 KiB of code and 1 KiB of memory for the encoder on Cortex-M0+', noArm),
    async () => {
      const sizes = await make(build.folder, 'size');
      const encoder = /encoder with all it calls: (\d+) code, (\d+) static RAM/.exec(sizes);
      expect(Number(encoder?.[1])).toBeGreaterThan(1000);
      expect(Number(encoder?.[1])).toBeLessThan(4096);
      expect(Number(encoder?.[2])).toBe(0);
      const whole = /node with MQTT with all it calls: \d+ code, (\d+) static RAM/.exec(sizes);
      expect(Number(whole?.[1])).toBe(0);
    },
    SLOW,
  );

  it.skipIf(noBoard !== null)(
    titled('uses under 1 KiB of stack and a bounded number of instructions, measured on the board', noBoard),
    async () => {
      const measured = await make(build.folder, 'measure');
      const stack = Number(/stack of clampline_encode_samples: (\d+) bytes/.exec(measured)?.[1]);
      expect(stack).toBeGreaterThan(200);
      expect(stack).toBeLessThan(1024);
      const costs = [...measured.matchAll(/order 12: (\d+) instructions\/sample/g)].map((m) => Number(m[1]));
      expect(costs.length).toBeGreaterThan(3);
      // 3 axes at 3.2 kHz in a quarter of a 48 MHz Cortex-M0+, at 2 cycles for an instruction.
      expect(Math.max(...costs)).toBeLessThan(48e6 / 4 / 9600 / 2);
    },
    SLOW,
  );

  it.skipIf(noArm !== null)(titled('uses no heap, no globals and no stdio', noArm), async () => {
    await make(build.folder, `${build.folder}/m0plus/libclampline.a`);
    const symbols = spawnSync('arm-none-eabi-nm', [`${build.folder}/m0plus/libclampline.a`], {
      cwd: coreFolder,
      encoding: 'utf8',
    }).stdout;
    expect(symbols).toContain('clampline_encode_samples');
    expect(symbols.match(/ [bBdDcC] /g)).toBeNull(); // nothing that can be written to
    expect(symbols.match(/ U .*(alloc|free|print|file|put[cs]|exit).*/gi)).toBeNull();
  });
});
