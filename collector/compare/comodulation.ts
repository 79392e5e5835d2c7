import { complexEnvelope, recordSpectrum } from '../dsp/hilbert.ts';
import { normalQuantile } from '../trend/normal.ts';
import { levelOfPower } from './band-power.ts';
import type { Band } from './bands.ts';
import type { LocationRecord } from './question.ts';

export interface Comodulation {
  /** Correlation of the two band levels over time, -1 to 1, at the best lag that the clocks' error allows. */
  correlation: number;
  /** That lag: how much later the second location shows the same, ms. Within the clocks' error it gives no order. */
  lagMs: number;
  /** Lags up to this were allowed: the largest error between the two clocks, ms. */
  clockErrorMs: number;
  frameMs: number;
  /** Independent values of the level that the correlation rests on. */
  independentFrames: number;
  /** Would come by chance less than once in a hundred times. */
  significant: boolean;
}

/** 16 levels a second, unless the band is too narrow for that. */
const FRAME_S = 1 / 16;
/** A level needs bandwidth x time of this much, or chance drowns it. */
const LEAST_BT = 8;
const ERROR_SHARE = 0.01;
/** Clocks further apart than this cannot be compared this way. */
const MOST_CLOCK_ERROR_MS = 500;

/**
 * Do the levels of one band go up and down together at two locations? For locations on different boards, whose
 * waveforms cannot be compared because their clocks differ. Says that both hear the same (or that both follow load and
 * speed), never who makes it. Null where the noise is too short or the clocks are not known.
 *
 * Independent frames after M. S. Bartlett 1935: n (1 - r1 r2) / (1 + r1 r2) with the lag-1 correlations of both;
 * significance by R. A. Fisher's transform, corrected for the lags tried.
 */
export function comodulation(
  a: LocationRecord,
  b: LocationRecord,
  band: Pick<Band, 'fromHz' | 'toHz'>,
  windows: readonly number[],
  windowS: number,
): Comodulation | null {
  const [errorA, errorB] = [a.timeUncertaintyMs ?? null, b.timeUncertaintyMs ?? null];
  if (a.board !== b.board && (errorA === null || errorB === null)) return null;
  const clockErrorMs = a.board === b.board ? 0 : errorA! + errorB!;
  if (clockErrorMs > MOST_CLOCK_ERROR_MS) return null;
  const frameS =
    windowS / Math.max(1, Math.floor(windowS / Math.max(FRAME_S, LEAST_BT / (band.toHz - band.fromHz))));
  const left = frameLevels(a, band, frameS);
  const right = frameLevels(b, band, frameS);
  const reach = Math.ceil(clockErrorMs / 1000 / frameS);
  const perWindow = Math.round(windowS / frameS);
  const frames = windows.flatMap((w) => Array.from({ length: perWindow }, (_, k) => w * perWindow + k));
  let best: { correlation: number; lag: number; independentFrames: number } | null = null;
  for (let lag = -reach; lag <= reach; lag++) {
    const both = frames.filter((k) => k < left.length && k + lag >= 0 && k + lag < right.length);
    const x = both.map((k) => left[k]!);
    const y = both.map((k) => right[k + lag]!);
    if (both.length < 12) continue;
    const correlation = pearson(x, y);
    const shared = Math.max(0, serial(x)) * Math.max(0, serial(y));
    const independentFrames = (both.length * (1 - shared)) / (1 + shared);
    if (best === null || correlation > best.correlation) best = { correlation, lag, independentFrames };
  }
  if (best === null) return null;
  const z =
    Math.atanh(Math.min(0.999999, best.correlation)) * Math.sqrt(Math.max(1, best.independentFrames - 3));
  return {
    correlation: best.correlation,
    lagMs: best.lag * frameS * 1000,
    clockErrorMs,
    frameMs: frameS * 1000,
    independentFrames: best.independentFrames,
    significant: z > normalQuantile(1 - ERROR_SHARE / (2 * reach + 1)),
  };
}

/** Level of a band in short frames, axes added up. */
function frameLevels(
  record: LocationRecord,
  { fromHz, toHz }: Pick<Band, 'fromHz' | 'toHz'>,
  frameS: number,
): number[] {
  const { axes, sampleRateHz } = record;
  const frames = Math.floor(axes[0]!.length / sampleRateHz / frameS + 1e-9);
  const power = new Array<number>(frames).fill(0);
  for (const samples of axes) {
    const { values, sampleRateHz: rate } = complexEnvelope(recordSpectrum(samples, sampleRateHz), [
      fromHz,
      toHz,
    ]);
    for (let f = 0; f < frames; f++) {
      const from = Math.floor(f * frameS * rate);
      const to = Math.max(from + 1, Math.floor((f + 1) * frameS * rate));
      let sum = 0;
      for (let k = from; k < to && 2 * k + 1 < values.length; k++)
        sum += values[2 * k]! ** 2 + values[2 * k + 1]! ** 2;
      // The magnitude of a band is its peak value: half its square is the mean square.
      power[f]! += sum / (to - from) / 2;
    }
  }
  return power.map(levelOfPower);
}

function pearson(x: readonly number[], y: readonly number[]): number {
  const n = x.length;
  const mx = x.reduce((s, v) => s + v, 0) / n;
  const my = y.reduce((s, v) => s + v, 0) / n;
  let [xy, xx, yy] = [0, 0, 0];
  for (let k = 0; k < n; k++) {
    xy += (x[k]! - mx) * (y[k]! - my);
    xx += (x[k]! - mx) ** 2;
    yy += (y[k]! - my) ** 2;
  }
  return xx > 0 && yy > 0 ? xy / Math.sqrt(xx * yy) : 0;
}

const serial = (x: readonly number[]) => pearson(x.slice(0, -1), x.slice(1));
