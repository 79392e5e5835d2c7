/** Two kept spectra of a location held against each other. Pure. */
import type { KeptSpectrum } from '../../contract/model.ts';
import { band, significant } from '../format.ts';
import type { Point } from './trend-series.ts';

export type Spectrum = NonNullable<KeptSpectrum['spectrum']>;

export const SPAN_MINUTES = [1, 10, 60, 1440] as const;
export const spanWords = (minutes: number): string =>
  minutes < 60 ? `${minutes} min` : minutes < 1440 ? `${minutes / 60} h` : `${minutes / 1440} day`;

const MINUTE_MS = 60_000;

/** Beginning of the newest span whose last minute is over. */
export const newestFromMs = (nowMs: number, minutes: number): number =>
  (Math.floor(nowMs / MINUTE_MS) - minutes) * MINUTE_MS;

/** A moment as an input of type datetime-local has it, by the clock of this device. */
export function localTime(atMs: number): string {
  const at = new Date(atMs);
  const two = (n: number) => String(n).padStart(2, '0');
  const day = `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
  return `${day}T${two(at.getHours())}:${two(at.getMinutes())}`;
}

/** Null for what is not a moment (an input that was cleared). */
export function fromLocalTime(text: string): number | null {
  const atMs = new Date(text).getTime();
  return Number.isFinite(atMs) ? atMs : null;
}

const levelsOf = (spectrum: Spectrum, axis: string): readonly number[] =>
  spectrum.axes.find((one) => one.axis === axis)?.rmsMPerS2 ?? [];

/** One axis to be drawn, each band at its middle. A band of nothing has no place on a logarithmic axis. */
export function bandPoints(spectrum: Spectrum, axis: string): Point[] {
  const { edgesHz } = spectrum;
  return levelsOf(spectrum, axis).map((y, i) => ({
    x: Math.sqrt(edgesHz[i]! * edgesHz[i + 1]!),
    y: y > 0 ? y : null,
  }));
}

export interface BandChange {
  bandHz: [number, number];
  thenMPerS2: number;
  nowMPerS2: number;
  changeDb: number;
}

/** So much between two means of a minute is not chance (4 standard deviations where a band holds one line). */
const LEAST_DB = 3;
/** A band this far below the highest one of both does not matter. */
const REACH_DB = 40;

/** Bands that changed by 3 dB or more, greatest first. */
export function bandChanges(then: Spectrum, now: Spectrum, axis: string, most = 5): BandChange[] {
  const [before, after] = [levelsOf(then, axis), levelsOf(now, axis)];
  const floor = Math.max(...before, ...after) / 10 ** (REACH_DB / 20);
  const beforeAt = new Map(then.edgesHz.map((hz, i) => [hz.toFixed(3), before[i]]));
  return after
    .flatMap((nowMPerS2, i): BandChange[] => {
      const thenMPerS2 = beforeAt.get(now.edgesHz[i]!.toFixed(3));
      if (thenMPerS2 === undefined || Math.max(thenMPerS2, nowMPerS2) < floor) return [];
      // What was nothing is taken as the floor, else the change would be infinite.
      const changeDb = 20 * Math.log10(Math.max(nowMPerS2, floor) / Math.max(thenMPerS2, floor));
      return [{ bandHz: [now.edgesHz[i]!, now.edgesHz[i + 1]!], thenMPerS2, nowMPerS2, changeDb }];
    })
    .filter(({ changeDb }) => Math.abs(changeDb) >= LEAST_DB)
    .sort((a, b) => Math.abs(b.changeDb) - Math.abs(a.changeDb))
    .slice(0, most);
}

/** "307 to 325 Hz: 0.031 to 0.078 m/s² RMS, +8.0 dB". */
export function changeText({ bandHz, thenMPerS2, nowMPerS2, changeDb }: BandChange): string {
  const sign = changeDb > 0 ? '+' : '\u2212';
  return `${band(bandHz)}: ${significant(thenMPerS2)} then, ${significant(nowMPerS2)} m/s² RMS now, ${sign}${Math.abs(changeDb).toFixed(1)} dB`;
}

export const sameMount = (a: Spectrum, b: Spectrum): boolean =>
  a.mount.nodeId === b.mount.nodeId &&
  a.mount.sensor === b.mount.sensor &&
  a.mount.sinceMs === b.mount.sinceMs;
