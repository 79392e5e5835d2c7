/** Figures as text, for the page and for what the server writes. Pure. */

/** Shown for a value that is not there. */
export const NONE = '–';

/**
 * Three significant digits, written out in full (no exponents); never finer than 0.001, because a reading of
 * one second is not known better than that.
 */
export function significant(value: number | null, digits = 3): string {
  if (value === null || !Number.isFinite(value)) return NONE;
  const rounded = Number(value.toPrecision(digits));
  if (rounded === 0) return '0';
  const exponent = Math.floor(Math.log10(Math.abs(rounded)));
  const shown = rounded.toFixed(Math.min(3, Math.max(0, digits - 1 - exponent)));
  return Number(shown) === 0 ? '< 0.001' : shown;
}
