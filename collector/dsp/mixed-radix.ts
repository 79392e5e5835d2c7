/**
 * Fourier transform for lengths of small prime factors (2, 3, 5): the Stockham form, which sorts as it goes and
 * needs no bit reversal. C. Van Loan, "Computational Frameworks for the Fast Fourier Transform", 1992, section 1.7.
 *
 * One pass of radix r turns n values of stride s into r interleaved problems of n / r values:
 * y[q + s (r p + k)] = w^(p k) sum over j of x[q + s (p + j n/r)] exp(-2 pi i j k / r), w = exp(-2 pi i / n).
 */
export interface MixedRadix {
  /** `size` complex numbers, real and imaginary parts in turn; `input` and `out` are two arrays. */
  forward(input: Float64Array, out: Float64Array): void;
  /** As forward with the other sign, not divided by the size. */
  backward(input: Float64Array, out: Float64Array): void;
}

interface Pass {
  radix: number;
  /** Values of one of the r problems, and how many problems are interleaved. */
  count: number;
  stride: number;
  /** w^p, w^2p ... w^(r-1)p for each p, real and imaginary parts in turn. */
  twiddles: Float64Array;
}

const RADICES = [4, 2, 3, 5] as const;

/** Whether the length has no prime factor but 2, 3 and 5. */
export function isSmooth(size: number): boolean {
  return factorsOf(size) !== null;
}

/** Smallest length of at least `atLeast` that transforms quickly, as a multiple of `multiple`. */
export function nextSmooth(atLeast: number, multiple = 4): number {
  let size = Math.max(1, Math.ceil(atLeast / multiple)) * multiple;
  while (!isSmooth(size)) size += multiple;
  return size;
}

/** @throws RangeError when the length has other prime factors */
export function mixedRadix(size: number): MixedRadix {
  const factors = factorsOf(size);
  if (factors === null) throw new RangeError(`${size} has prime factors beyond 2, 3 and 5`);
  const passes: Pass[] = [];
  for (let n = size, stride = 1, i = 0; i < factors.length; i++) {
    const radix = factors[i]!;
    passes.push({ radix, count: n / radix, stride, twiddles: twiddlesOf(n, radix) });
    n /= radix;
    stride *= radix;
  }
  const spare = new Float64Array(2 * size);

  // The inverse is the same arithmetic with real and imaginary parts exchanged: `re` says where the real part is.
  const run = (input: Float64Array, out: Float64Array, re: 0 | 1) => {
    if (passes.length === 0) out.set(input.subarray(0, 2));
    let from = input;
    for (let i = 0; i < passes.length; i++) {
      const to = (passes.length - i) % 2 === 1 ? out : spare;
      const pass = passes[i]!;
      if (pass.radix === 4) radix4(pass, from, to, re);
      else if (pass.radix === 2) radix2(pass, from, to, re);
      else if (pass.radix === 3) radix3(pass, from, to, re);
      else radix5(pass, from, to, re);
      from = to;
    }
  };
  return {
    forward: (input, out) => run(input, out, 0),
    backward: (input, out) => run(input, out, 1),
  };
}

function factorsOf(size: number): number[] | null {
  const factors: number[] = [];
  let rest = size;
  for (const radix of RADICES) {
    for (; rest % radix === 0; rest /= radix) factors.push(radix);
  }
  return rest === 1 ? factors : null;
}

function twiddlesOf(n: number, radix: number): Float64Array {
  const count = n / radix;
  const table = new Float64Array(2 * (radix - 1) * count);
  for (let p = 0; p < count; p++) {
    for (let k = 1; k < radix; k++) {
      const angle = (-2 * Math.PI * ((p * k) % n)) / n;
      table[2 * ((radix - 1) * p + k - 1)] = Math.cos(angle);
      table[2 * ((radix - 1) * p + k - 1) + 1] = Math.sin(angle);
    }
  }
  return table;
}

function radix2({ count, stride, twiddles }: Pass, x: Float64Array, y: Float64Array, re: 0 | 1): void {
  const im = 1 - re;
  const half = 2 * stride * count;
  for (let p = 0; p < count; p++) {
    const wr = twiddles[2 * p]!;
    const wi = twiddles[2 * p + 1]!;
    let at = 2 * stride * p;
    let to = 4 * stride * p;
    for (let q = 0; q < stride; q++, at += 2, to += 2) {
      const ar = x[at + re]!;
      const ai = x[at + im]!;
      const br = x[at + half + re]!;
      const bi = x[at + half + im]!;
      const dr = ar - br;
      const di = ai - bi;
      y[to + re] = ar + br;
      y[to + im] = ai + bi;
      y[to + 2 * stride + re] = dr * wr - di * wi;
      y[to + 2 * stride + im] = dr * wi + di * wr;
    }
  }
}

function radix4({ count, stride, twiddles }: Pass, x: Float64Array, y: Float64Array, re: 0 | 1): void {
  const im = 1 - re;
  const quarter = 2 * stride * count;
  const s = 2 * stride;
  for (let p = 0; p < count; p++) {
    const w = 6 * p;
    const w1r = twiddles[w]!;
    const w1i = twiddles[w + 1]!;
    const w2r = twiddles[w + 2]!;
    const w2i = twiddles[w + 3]!;
    const w3r = twiddles[w + 4]!;
    const w3i = twiddles[w + 5]!;
    let at = s * p;
    let to = 4 * s * p;
    for (let q = 0; q < stride; q++, at += 2, to += 2) {
      const ar = x[at + re]!;
      const ai = x[at + im]!;
      const br = x[at + quarter + re]!;
      const bi = x[at + quarter + im]!;
      const cr = x[at + 2 * quarter + re]!;
      const ci = x[at + 2 * quarter + im]!;
      const dr = x[at + 3 * quarter + re]!;
      const di = x[at + 3 * quarter + im]!;
      const acr = ar + cr;
      const aci = ai + ci;
      const amr = ar - cr;
      const ami = ai - ci;
      const bdr = br + dr;
      const bdi = bi + di;
      // (b - d) times -i
      const bmr = bi - di;
      const bmi = dr - br;
      y[to + re] = acr + bdr;
      y[to + im] = aci + bdi;
      const er = amr + bmr;
      const ei = ami + bmi;
      y[to + s + re] = er * w1r - ei * w1i;
      y[to + s + im] = er * w1i + ei * w1r;
      const fr = acr - bdr;
      const fi = aci - bdi;
      y[to + 2 * s + re] = fr * w2r - fi * w2i;
      y[to + 2 * s + im] = fr * w2i + fi * w2r;
      const gr = amr - bmr;
      const gi = ami - bmi;
      y[to + 3 * s + re] = gr * w3r - gi * w3i;
      y[to + 3 * s + im] = gr * w3i + gi * w3r;
    }
  }
}

const SIN_60 = Math.sqrt(3) / 2;

function radix3({ count, stride, twiddles }: Pass, x: Float64Array, y: Float64Array, re: 0 | 1): void {
  const im = 1 - re;
  const third = 2 * stride * count;
  const s = 2 * stride;
  for (let p = 0; p < count; p++) {
    const w1r = twiddles[4 * p]!;
    const w1i = twiddles[4 * p + 1]!;
    const w2r = twiddles[4 * p + 2]!;
    const w2i = twiddles[4 * p + 3]!;
    let at = s * p;
    let to = 3 * s * p;
    for (let q = 0; q < stride; q++, at += 2, to += 2) {
      const ar = x[at + re]!;
      const ai = x[at + im]!;
      const br = x[at + third + re]!;
      const bi = x[at + third + im]!;
      const cr = x[at + 2 * third + re]!;
      const ci = x[at + 2 * third + im]!;
      const sr = br + cr;
      const si = bi + ci;
      const mr = ar - sr / 2;
      const mi = ai - si / 2;
      const dr = SIN_60 * (bi - ci);
      const di = SIN_60 * (cr - br);
      y[to + re] = ar + sr;
      y[to + im] = ai + si;
      y[to + s + re] = (mr + dr) * w1r - (mi + di) * w1i;
      y[to + s + im] = (mr + dr) * w1i + (mi + di) * w1r;
      y[to + 2 * s + re] = (mr - dr) * w2r - (mi - di) * w2i;
      y[to + 2 * s + im] = (mr - dr) * w2i + (mi - di) * w2r;
    }
  }
}

const [COS_72, SIN_72] = [Math.cos((2 * Math.PI) / 5), Math.sin((2 * Math.PI) / 5)];
const [COS_144, SIN_144] = [Math.cos((4 * Math.PI) / 5), Math.sin((4 * Math.PI) / 5)];

function radix5({ count, stride, twiddles }: Pass, x: Float64Array, y: Float64Array, re: 0 | 1): void {
  const im = 1 - re;
  const fifth = 2 * stride * count;
  const s = 2 * stride;
  for (let p = 0; p < count; p++) {
    const w = 8 * p;
    const w1r = twiddles[w]!;
    const w1i = twiddles[w + 1]!;
    const w2r = twiddles[w + 2]!;
    const w2i = twiddles[w + 3]!;
    const w3r = twiddles[w + 4]!;
    const w3i = twiddles[w + 5]!;
    const w4r = twiddles[w + 6]!;
    const w4i = twiddles[w + 7]!;
    let at = s * p;
    let to = 5 * s * p;
    for (let q = 0; q < stride; q++, at += 2, to += 2) {
      const ar = x[at + re]!;
      const ai = x[at + im]!;
      const br = x[at + fifth + re]!;
      const bi = x[at + fifth + im]!;
      const cr = x[at + 2 * fifth + re]!;
      const ci = x[at + 2 * fifth + im]!;
      const dr = x[at + 3 * fifth + re]!;
      const di = x[at + 3 * fifth + im]!;
      const er = x[at + 4 * fifth + re]!;
      const ei = x[at + 4 * fifth + im]!;
      const ber = br + er;
      const bei = bi + ei;
      const bmr = br - er;
      const bmi = bi - ei;
      const cdr = cr + dr;
      const cdi = ci + di;
      const cmr = cr - dr;
      const cmi = ci - di;
      const m1r = ar + COS_72 * ber + COS_144 * cdr;
      const m1i = ai + COS_72 * bei + COS_144 * cdi;
      const m2r = ar + COS_144 * ber + COS_72 * cdr;
      const m2i = ai + COS_144 * bei + COS_72 * cdi;
      // times -i
      const n1r = SIN_72 * bmi + SIN_144 * cmi;
      const n1i = -SIN_72 * bmr - SIN_144 * cmr;
      const n2r = SIN_144 * bmi - SIN_72 * cmi;
      const n2i = -SIN_144 * bmr + SIN_72 * cmr;
      y[to + re] = ar + ber + cdr;
      y[to + im] = ai + bei + cdi;
      y[to + s + re] = (m1r + n1r) * w1r - (m1i + n1i) * w1i;
      y[to + s + im] = (m1r + n1r) * w1i + (m1i + n1i) * w1r;
      y[to + 2 * s + re] = (m2r + n2r) * w2r - (m2i + n2i) * w2i;
      y[to + 2 * s + im] = (m2r + n2r) * w2i + (m2i + n2i) * w2r;
      y[to + 3 * s + re] = (m2r - n2r) * w3r - (m2i - n2i) * w3i;
      y[to + 3 * s + im] = (m2r - n2r) * w3i + (m2i - n2i) * w3r;
      y[to + 4 * s + re] = (m1r - n1r) * w4r - (m1i - n1i) * w4i;
      y[to + 4 * s + im] = (m1r - n1r) * w4i + (m1i - n1i) * w4r;
    }
  }
}
