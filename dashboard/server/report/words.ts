/** Figures of reports as text. */
import { significant } from '../../contract/words/figures.ts';
import { dateOf } from '../weeks/words.ts';
import type { PlaceLevel } from './data.ts';

/** "2.31 ± 0.24 mm/s" */
export function velocityText({ velocityRmsMmPerS, uncertaintyMmPerS }: PlaceLevel): string {
  const range = uncertaintyMmPerS === null ? '' : ` ± ${significant(uncertaintyMmPerS, 2)}`;
  return `${significant(velocityRmsMmPerS)}${range} mm/s`;
}

/** The day; with the time of day only where exact times are wanted. */
export function dayText(atMs: number, exactly: boolean): string {
  if (!exactly) return dateOf(atMs);
  const at = new Date(atMs);
  const two = (n: number) => String(n).padStart(2, '0');
  return `${dateOf(atMs)}, ${two(at.getHours())}:${two(at.getMinutes())}:${two(at.getSeconds())}`;
}

export function bytesText(count: number): string {
  return count < 1e6 ? `${Math.round(count / 1e3)} kB` : `${(count / 1e6).toFixed(1)} MB`;
}

/** A sentence as it should stand: with a capital and a full stop, or nothing. */
export function sentence(text: string): string {
  if (text === '') return '';
  const whole = `${text.charAt(0).toUpperCase()}${text.slice(1)}`;
  return /[.!?]$/.test(whole) ? whole : `${whole}.`;
}
