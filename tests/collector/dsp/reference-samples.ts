/** The samples of tests/golden/spectra.py, made here bit for bit. */
export function referenceSamples(count: number): Float64Array {
  let x = 1;
  return Float64Array.from({ length: count }, (_, k) => {
    x = (Math.imul(1664525, x) + 1013904223) >>> 0;
    const t = k / 5000;
    const swell = 1 + 0.8 * Math.cos(2 * Math.PI * 37 * t);
    return x / 2 ** 31 - 1 + swell * Math.cos(2 * Math.PI * 1200 * t);
  });
}
