/** What encoder and decoder of predicted samples share (SPEC.md, 4.2). */

export const MAX_ORDER = 16;
/** Residuals that share one Rice parameter. */
export const PARTITION = 32;
/** So many zeros say that 16 plain bits follow. */
export const ESCAPE = 24;
export const MAX_RICE = 15;
/** Coding byte of a channel that holds plain samples; other values are orders of prediction. */
export const PLAIN_CHANNEL = 255;

/**
 * Prediction taps, in 1/4096, from wire values of reflection coefficients (-31 to 31), by the step-up
 * recursion. Products and sums wrap modulo 2^32, so any coefficients give a defined result.
 */
export function stepUp(reflection: ArrayLike<number>, order: number, taps: Int32Array): void {
  const old = new Int32Array(MAX_ORDER);
  for (let m = 0; m < order; m++) {
    const q = reflection[m]!;
    const k = q * (64 - Math.abs(q));
    old.set(taps.subarray(0, m));
    for (let i = 0; i < m; i++) taps[i] = old[i]! - ((Math.imul(k, old[m - 1 - i]!) + 512) >> 10);
    taps[m] = k * 4;
  }
}
