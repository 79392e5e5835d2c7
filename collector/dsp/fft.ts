import { isSmooth, mixedRadix, nextSmooth } from './mixed-radix.ts';

/**
 * Fourier transform of complex numbers of any length n >= 1. Arrays hold real and imaginary parts in turn
 * (2n numbers). forward: X[k] = sum x[m] exp(-2 pi i k m / n); inverse: the same with +, divided by n.
 * The result is a new array, or `out` when given (never the input itself).
 */
export interface ComplexFft {
  readonly size: number;
  forward(input: Float64Array, out?: Float64Array): Float64Array;
  inverse(input: Float64Array, out?: Float64Array): Float64Array;
}

/** Transform of n real numbers: bins 0 to floor(n/2) as real and imaginary parts in turn. */
export interface RealFft {
  readonly size: number;
  readonly bins: number;
  forward(input: Float64Array, out?: Float64Array): Float64Array;
}

/**
 * Plan for a complex transform. Lengths of prime factors 2, 3 and 5 are quick; others are exact too, through
 * Bluestein's chirp transform (L. Bluestein, 1970), at about four times the cost. Plans are kept and shared,
 * because blocks of one stream all have the same length.
 */
export function complexFft(size: number): ComplexFft {
  checkSize(size);
  return kept(complexPlans, size, () => (isSmooth(size) ? smoothPlan(size) : chirpPlan(size)));
}

/** Plan for a real transform; an even length is done as a complex one of half the length. */
export function realFft(size: number): RealFft {
  checkSize(size);
  return kept(realPlans, size, () => (size % 2 === 0 ? evenPlan(size) : oddPlan(size)));
}

export function nextPowerOfTwo(atLeast: number): number {
  return 2 ** Math.ceil(Math.log2(Math.max(1, atLeast)));
}

const complexPlans = new Map<number, ComplexFft>();
const realPlans = new Map<number, RealFft>();
/** A station sees a handful of lengths; a file of odd length must not pin memory for ever. */
const PLANS_KEPT = 24;

function kept<T>(plans: Map<number, T>, size: number, make: () => T): T {
  const plan = plans.get(size) ?? make();
  plans.delete(size);
  plans.set(size, plan);
  if (plans.size > PLANS_KEPT) plans.delete(plans.keys().next().value as number);
  return plan;
}

function checkSize(size: number): void {
  if (!Number.isInteger(size) || size < 1) {
    throw new RangeError(`transform length must be a whole number of at least 1, got ${size}`);
  }
}

function smoothPlan(size: number): ComplexFft {
  const engine = mixedRadix(size);
  const share = 1 / size;
  return {
    size,
    forward(input, out = new Float64Array(2 * size)) {
      engine.forward(input, out);
      return out;
    },
    inverse(input, out = new Float64Array(2 * size)) {
      engine.backward(input, out);
      for (let i = 0; i < 2 * size; i++) out[i]! *= share;
      return out;
    },
  };
}

function chirpPlan(size: number): ComplexFft {
  const long = nextSmooth(2 * size - 1);
  const engine = smoothPlan(long);
  const chirp = new Float64Array(2 * size);
  const kernel = new Float64Array(2 * long);
  for (let k = 0; k < size; k++) {
    // k² mod 2n keeps the angle small, else its rounding grows with k².
    const angle = (Math.PI * ((k * k) % (2 * size))) / size;
    const re = Math.cos(angle);
    const im = Math.sin(angle);
    chirp[2 * k] = re;
    chirp[2 * k + 1] = -im;
    for (const at of [k, (long - k) % long]) {
      kernel[2 * at] = re;
      kernel[2 * at + 1] = im;
    }
  }
  const kernelSpectrum = engine.forward(kernel);
  const work = new Float64Array(2 * long);
  const spectrum = new Float64Array(2 * long);

  // sign -1: forward. The inverse is the forward transform of the conjugate, conjugated and divided by n.
  const run = (input: Float64Array, out: Float64Array, sign: 1 | -1): Float64Array => {
    work.fill(0);
    for (let k = 0; k < size; k++) multiply(work, k, input[2 * k]!, -sign * input[2 * k + 1]!, chirp, k);
    engine.forward(work, spectrum);
    for (let k = 0; k < long; k++) {
      multiply(spectrum, k, spectrum[2 * k]!, spectrum[2 * k + 1]!, kernelSpectrum, k);
    }
    engine.inverse(spectrum, work);
    for (let k = 0; k < size; k++) {
      multiply(out, k, work[2 * k]!, work[2 * k + 1]!, chirp, k);
      if (sign === 1) {
        out[2 * k] = out[2 * k]! / size;
        out[2 * k + 1] = -out[2 * k + 1]! / size;
      }
    }
    return out;
  };
  return {
    size,
    forward: (input, out = new Float64Array(2 * size)) => run(input, out, -1),
    inverse: (input, out = new Float64Array(2 * size)) => run(input, out, 1),
  };
}

/** target[at] = (re + i im) * factors[from] */
function multiply(
  target: Float64Array,
  at: number,
  re: number,
  im: number,
  factors: Float64Array,
  from: number,
): void {
  const factorRe = factors[2 * from]!;
  const factorIm = factors[2 * from + 1]!;
  target[2 * at] = re * factorRe - im * factorIm;
  target[2 * at + 1] = re * factorIm + im * factorRe;
}

function evenPlan(size: number): RealFft {
  const half = size / 2;
  const engine = complexFft(half);
  const packed = new Float64Array(size);
  const twiddle = new Float64Array(size + 2);
  for (let k = 0; k <= half; k++) {
    twiddle[2 * k] = Math.cos((2 * Math.PI * k) / size);
    twiddle[2 * k + 1] = -Math.sin((2 * Math.PI * k) / size);
  }
  return {
    size,
    bins: half + 1,
    forward(input, out = new Float64Array(size + 2)) {
      // Even samples as real, odd ones as imaginary part; then untangled by symmetry, two lines at a time.
      const z = engine.forward(input.length === size ? input : input.subarray(0, size), packed);
      out[0] = z[0]! + z[1]!;
      out[1] = 0;
      out[size] = z[0]! - z[1]!;
      out[size + 1] = 0;
      for (let a = 2, b = size - 2; a <= b; a += 2, b -= 2) {
        const evenRe = (z[a]! + z[b]!) / 2;
        const evenIm = (z[a + 1]! - z[b + 1]!) / 2;
        const oddRe = (z[a + 1]! + z[b + 1]!) / 2;
        const oddIm = (z[b]! - z[a]!) / 2;
        const turnedRe = twiddle[a]! * oddRe - twiddle[a + 1]! * oddIm;
        const turnedIm = twiddle[a]! * oddIm + twiddle[a + 1]! * oddRe;
        out[a] = evenRe + turnedRe;
        out[a + 1] = evenIm + turnedIm;
        out[b] = evenRe - turnedRe;
        out[b + 1] = turnedIm - evenIm;
      }
      return out;
    },
  };
}

function oddPlan(size: number): RealFft {
  const engine = complexFft(size);
  const bins = (size + 1) / 2;
  const padded = new Float64Array(2 * size);
  const full = new Float64Array(2 * size);
  return {
    size,
    bins,
    forward(input, out = new Float64Array(2 * bins)) {
      for (let k = 0; k < size; k++) padded[2 * k] = input[k]!;
      engine.forward(padded, full);
      out.set(full.subarray(0, 2 * bins));
      return out;
    },
  };
}
