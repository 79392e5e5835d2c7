import loadPffft from '@echogarden/pffft-wasm/simd';
import { isSmooth } from './mixed-radix.ts';

/**
 * Fourier transforms in single precision, several times as fast as fft.ts. What they add is noise some 1e-7 of the
 * strongest line (140 dB below it), less than 16-bit samples bring along: enough for a spectrum that is looked at, kept or
 * counted, not for one that is transformed on and on.
 *
 * pffft (J. Pommier), compiled to WebAssembly with vector instructions.
 */
export interface QuickFft {
  readonly size: number;
  /**
   * What is to be transformed goes here, `size` numbers (complex: twice as many, real and imaginary parts in turn);
   * good until it is transformed. Ask for all the plans of a calculation before this: they share their room.
   */
  input(): Float32Array;
  /**
   * Transforms it. Real: lines 1 to size/2 - 1 as real and imaginary parts in turn from place 2 on, place 0 the line at
   * 0 Hz, place 1 that at half the rate. Not divided by the size. Good until the next call.
   */
  forward(): Float32Array;
  /** Complex only: the same with the other sign, not divided either. */
  backward(): Float32Array;
}

const engine = await loadPffft();
const PLANS_KEPT = 24;
/** Real lengths are multiples of 32, complex ones of 16, with no prime factor beyond 5. */
const MULTIPLE = { real: 32, complex: 16 } as const;
export const QUICK_COMPLEX_MULTIPLE = MULTIPLE.complex;
/** Longer records are rare, and their room would stay. */
const LONGEST = 2 ** 16;

type Kind = keyof typeof MULTIPLE;
interface Room {
  floats: number;
  input: number;
  output: number;
  work: number;
}

const setups: Record<Kind, Map<number, number>> = { real: new Map(), complex: new Map() };
let room: Room = { floats: 0, input: 0, output: 0, work: 0 };

/** Null when there is no quick way for this length. */
export function quickFft(size: number, kind: Kind): QuickFft | null {
  if (size % MULTIPLE[kind] !== 0 || size > LONGEST || size < MULTIPLE[kind] || !isSmooth(size)) return null;
  const setup = setupFor(size, kind);
  if (setup === 0) return null;
  const floats = kind === 'real' ? size : 2 * size;
  if (room.floats < floats) room = roomFor(floats);
  // Memory may have grown meanwhile, which takes old views away.
  const view = (pointer: number) => engine.HEAPF32.subarray(pointer / 4, pointer / 4 + floats);
  const run = (direction: 0 | 1) => {
    engine._pffft_transform_ordered(setup, room.input, room.output, room.work, direction);
    return view(room.output);
  };
  return { size, input: () => view(room.input), forward: () => run(0), backward: () => run(1) };
}

/** The one used least lately goes: never one that was asked for just before. */
function setupFor(size: number, kind: Kind): number {
  const kept = setups[kind];
  const setup = kept.get(size) ?? engine._pffft_new_setup(size, kind === 'real' ? 0 : 1);
  kept.delete(size);
  kept.set(size, setup);
  if (kept.size > PLANS_KEPT) {
    const [oldest, unused] = kept.entries().next().value!;
    kept.delete(oldest);
    engine._pffft_destroy_setup(unused);
  }
  return setup;
}

function roomFor(floats: number): Room {
  for (const pointer of [room.input, room.output, room.work])
    if (pointer !== 0) engine._pffft_aligned_free(pointer);
  const [input, output, work] = [0, 0, 0].map(() => engine._pffft_aligned_malloc(4 * floats)) as [
    number,
    number,
    number,
  ];
  return { floats, input, output, work };
}
