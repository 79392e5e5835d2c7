import { studentQuantile } from '../compare/student-t.ts';
import type { RingDown, RingMode } from './ring-down.ts';

/** A mode as several raps agree on it. */
export interface RepeatedMode {
  frequencyHz: number;
  /** Expanded uncertainty (about 95 %). */
  frequencyUncertaintyHz: number;
  dampingRatio: number;
  dampingUncertainty: number;
  /** Mean over the raps. */
  amplitude: number;
  /** Raps that show it, out of how many. */
  raps: number;
  of: number;
  /** 'scatter' of three raps or more; else 'assumed': where one raps and how the sensor sits moves it by about 1 %. */
  uncertaintyFrom: 'scatter' | 'assumed';
}

/** Frequencies this close are one mode heard twice. */
const SAME_SHARE = 0.03;
/** Fewer raps say nothing of their own scatter. */
const LEAST_RAPS = 3;
/** Common practice, no source: moving the striker or the sensor shifts a mode of a sheet by about this share. */
const ASSUMED_FREQUENCY_SHARE = 0.01;
const ASSUMED_DAMPING_SHARE = 0.2;

/**
 * Modes over several raps of one part. With three raps or more the uncertainty is their own scatter (Student's t), at
 * least what the fits state; with fewer it is assumed. Modes that fewer than half of the raps show are left out.
 */
export function repeatedModes(raps: readonly RingDown[]): RepeatedMode[] {
  const groups: RingMode[][] = [];
  for (const { modes } of raps) {
    for (const mode of modes) {
      const group = groups.find(
        (one) => Math.abs(mean(one, 'frequencyHz') / mode.frequencyHz - 1) < SAME_SHARE,
      );
      if (group === undefined) groups.push([mode]);
      else group.push(mode);
    }
  }
  return groups
    .filter((group) => 2 * group.length >= raps.length)
    .map((group): RepeatedMode => {
      const enough = group.length >= LEAST_RAPS;
      const frequencyHz = mean(group, 'frequencyHz');
      const dampingRatio = mean(group, 'dampingRatio');
      const byFit = (key: keyof RingMode) => Math.hypot(...group.map((mode) => mode[key])) / group.length;
      const byRaps = (key: keyof RingMode, assumed: number) =>
        enough ? scatter(group.map((mode) => mode[key])) : assumed;
      return {
        frequencyHz,
        frequencyUncertaintyHz: Math.max(
          byFit('frequencyUncertaintyHz'),
          byRaps('frequencyHz', ASSUMED_FREQUENCY_SHARE * frequencyHz),
        ),
        dampingRatio,
        dampingUncertainty: Math.max(
          byFit('dampingUncertainty'),
          byRaps('dampingRatio', ASSUMED_DAMPING_SHARE * dampingRatio),
        ),
        amplitude: mean(group, 'amplitude'),
        raps: group.length,
        of: raps.length,
        uncertaintyFrom: enough ? 'scatter' : 'assumed',
      };
    })
    .sort((a, b) => b.amplitude - a.amplitude);
}

/** Half width of the 95 % interval of a mean. */
function scatter(values: readonly number[]): number {
  const n = values.length;
  const middle = values.reduce((sum, v) => sum + v, 0) / n;
  const sd = Math.sqrt(values.reduce((sum, v) => sum + (v - middle) ** 2, 0) / (n - 1));
  return (studentQuantile(0.025, n - 1) * sd) / Math.sqrt(n);
}

function mean(group: readonly RingMode[], key: keyof RingMode): number {
  return group.reduce((sum, mode) => sum + mode[key], 0) / group.length;
}
