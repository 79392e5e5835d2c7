/** The integers of tests/golden/trend.py, made here exactly. */
export function integers(seed: number, count: number, modulus: number): number[] {
  let x = seed;
  return Array.from({ length: count }, () => {
    x = (Math.imul(1664525, x) + 1013904223) >>> 0;
    return (x >>> 16) % modulus;
  });
}

export function series(seed: number, count: number, modulus: number, rise: number): number[] {
  return integers(seed, count, modulus).map((value, k) => value + Math.floor((rise * k) / 4));
}

export function instants(seed: number, count: number): number[] {
  let at = 0;
  return integers(seed, count, 5).map((gap) => {
    at += 1 + gap;
    return at;
  });
}
