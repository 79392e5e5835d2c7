/**
 * Digital Butterworth filters as second-order sections, by the bilinear transform with the corner prewarped:
 * the digital filter has exactly the analog magnitude at the corner and squeezes the rest of the frequency axis
 * by tan(pi f / rate) (Oppenheim and Schafer, Discrete-Time Signal Processing, 7.1.2).
 */

/** (1 + b1 z^-1 + b2 z^-2) / (1 + a1 z^-1 + a2 z^-2). The gains of all sections are kept in one number beside them. */
interface Section {
  b1: number;
  b2: number;
  a1: number;
  a2: number;
}

/** Sections in series, times one gain. */
export interface FilterDesign {
  gain: number;
  sections: Section[];
}

/**
 * Quality factors of the pole pairs of a Butterworth filter of even order n: 1 / (2 cos(theta)) with
 * theta = pi (2k + 1) / (2n). Lowest first: the gentle sections take the transients before the resonant ones
 * see them.
 */
export function butterworthQualities(order: number): number[] {
  return Array.from({ length: order / 2 }, (_, k) => 0.5 / Math.cos((Math.PI * (2 * k + 1)) / (2 * order)));
}

export function butterworthLowPass(order: number, cornerHz: number, sampleRateHz: number): FilterDesign {
  return design(order, cornerHz, sampleRateHz, 'low');
}

export function butterworthHighPass(order: number, cornerHz: number, sampleRateHz: number): FilterDesign {
  return design(order, cornerHz, sampleRateHz, 'high');
}

/** |H| at `frequencyHz`, evaluated on the unit circle. */
export function magnitudeAt(filter: FilterDesign, frequencyHz: number, sampleRateHz: number): number {
  const w = (2 * Math.PI * frequencyHz) / sampleRateHz;
  return filter.sections.reduce(
    (product, { b1, b2, a1, a2 }) => (product * polynomialAt(b1, b2, w)) / polynomialAt(a1, a2, w),
    Math.abs(filter.gain),
  );
}

function polynomialAt(c1: number, c2: number, w: number): number {
  const real = 1 + c1 * Math.cos(w) + c2 * Math.cos(2 * w);
  const imaginary = c1 * Math.sin(w) + c2 * Math.sin(2 * w);
  return Math.hypot(real, imaginary);
}

function design(order: number, cornerHz: number, sampleRateHz: number, kind: 'low' | 'high'): FilterDesign {
  if (!(Number.isInteger(order) && order >= 2 && order % 2 === 0)) {
    throw new RangeError(`filter order ${order}: an even whole number of at least 2 is needed`);
  }
  if (!(cornerHz > 0 && cornerHz < sampleRateHz / 2)) {
    throw new RangeError(
      `corner ${cornerHz} Hz does not lie between 0 and half of the rate ${sampleRateHz} Hz`,
    );
  }
  const k = Math.tan((Math.PI * cornerHz) / sampleRateHz);
  const zero = kind === 'low' ? 1 : -1;
  let gain = 1;
  const sections = butterworthQualities(order).map((quality) => {
    const norm = 1 / (1 + k / quality + k * k);
    gain *= kind === 'low' ? norm * k * k : norm;
    return { b1: 2 * zero, b2: 1, a1: 2 * (k * k - 1) * norm, a2: (1 - k / quality + k * k) * norm };
  });
  return { gain, sections };
}
