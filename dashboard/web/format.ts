/** Numbers, units and times as text. Pure: the clock comes in as an argument. */

import { NONE, significant } from '../contract/words/figures.ts';

export { NONE, significant };

/** "3 s ago", "2 min ago", "5 h ago", "3 days ago". */
export function ago(ageMs: number): string {
  const seconds = Math.max(0, Math.round(ageMs / 1000));
  if (seconds < 1) return 'now';
  if (seconds < 60) return `${seconds} s ago`;
  const minutes = Math.floor(seconds / 60);
  if (minutes < 60) return `${minutes} min ago`;
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return `${hours} h ago`;
  return `${Math.floor(hours / 24)} days ago`;
}

const two = (n: number) => String(n).padStart(2, '0');

/** Wall clock "14:02", with seconds when asked. */
export function clock(atMs: number, withSeconds = false): string {
  const at = new Date(atMs);
  const base = `${two(at.getHours())}:${two(at.getMinutes())}`;
  return withSeconds ? `${base}:${two(at.getSeconds())}` : base;
}

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

/** "14:02" for a moment of today, "24 Nov 14:02" for this year, "24 Nov 2023 14:02" before. */
export function moment(atMs: number, nowMs: number): string {
  const at = new Date(atMs);
  const now = new Date(nowMs);
  if (at.toDateString() === now.toDateString()) return clock(atMs);
  const day = `${at.getDate()} ${MONTHS[at.getMonth()]}`;
  const year = at.getFullYear() === now.getFullYear() ? '' : ` ${at.getFullYear()}`;
  return `${day}${year} ${clock(atMs)}`;
}

/** "24 Nov", with the year where it is another one than now. */
export function day(atMs: number, nowMs: number): string {
  const at = new Date(atMs);
  const year = at.getFullYear() === new Date(nowMs).getFullYear() ? '' : ` ${at.getFullYear()}`;
  return `${at.getDate()} ${MONTHS[at.getMonth()]}${year}`;
}

export function bytes(count: number): string {
  const units = ['B', 'kB', 'MB', 'GB', 'TB'];
  let value = count;
  let unit = 0;
  while (value >= 1000 && unit < units.length - 1) {
    value /= 1000;
    unit += 1;
  }
  return `${unit === 0 ? String(Math.round(value)) : significant(value)} ${units[unit]}`;
}

/** Limits of a band in Hz: "10 to 1000 Hz". */
export function band([low, high]: readonly [number, number]): string {
  const whole = (hz: number) => (hz >= 100 ? String(Math.round(hz)) : String(Number(hz.toPrecision(3))));
  return `${whole(low)} to ${whole(high)} Hz`;
}

/** Whether a band is the 10 to 1000 Hz that the zones are made for. */
export const isUsualBand = ([low, high]: readonly [number, number]): boolean =>
  Math.abs(low - 10) < 0.5 && Math.abs(high - 1000) < 10;

/** A frequency no finer than the lines it was read from. */
export const frequency = (hz: number, stepHz: number): string =>
  hz.toFixed(stepHz >= 1 ? 0 : stepHz >= 0.1 ? 1 : 2);

export const axisName = (axis: string): string => (axis === 'single' ? 'single axis' : axis.toUpperCase());

/** Node ids in groups of four, easier to compare with a label. */
export const nodeIdText = (id: string): string => id.replace(/(.{4})(?=.)/g, '$1 ');

/** What a person typed or scanned as a node id, reduced to 16 lower hex digits where possible. */
export const cleanNodeId = (typed: string): string => typed.toLowerCase().replace(/^0x|[\s:-]/g, '');
