/** Numbers and dates as text, for sentences made by the station. */

const MONTHS = [
  'January',
  'February',
  'March',
  'April',
  'May',
  'June',
  'July',
  'August',
  'September',
  'October',
  'November',
  'December',
];

/** "24 November 2026", by the station's own calendar. */
export function dateOf(atMs: number): string {
  const at = new Date(atMs);
  return `${at.getDate()} ${MONTHS[at.getMonth()]} ${at.getFullYear()}`;
}

export function dateRange(fromMs: number, toMs: number): string {
  const [from, to] = [dateOf(fromMs), dateOf(toMs)];
  return from === to ? `on ${from}` : `between ${from} and ${to}`;
}

/** Three significant digits without exponents. */
export function level(value: number): string {
  if (value === 0) return '0';
  const digits = Math.max(0, 2 - Math.floor(Math.log10(Math.abs(value))));
  return value.toFixed(Math.min(4, digits));
}

/** A share as percent: two significant digits below ten, whole above. */
export function percent(share: number): string {
  const value = 100 * share;
  const size = Math.abs(value);
  if (size === 0 || size >= 10) return `${value.toFixed(0)} %`;
  if (size < 0.0001) return 'under 0.0001 %';
  return `${value.toFixed(Math.min(4, Math.max(0, 1 - Math.floor(Math.log10(size)))))} %`;
}
