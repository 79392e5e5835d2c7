import type { Span } from '../capture/capture.ts';
import {
  compareSides,
  type RepeatedMode,
  type RingDown,
  repeatedModes,
  ringDowns,
  type SideComparison,
} from '../tap/index.ts';
import { cutPlaces, type Source } from './source.ts';

export interface TapQuestion {
  /** Holds one place. */
  source: Source;
  span: Span;
  leadMs?: number;
}

export interface TapAnswer {
  raps: number;
  sampleRateHz: number;
  axis: string;
  modes: RepeatedMode[];
  /** Why there is nothing to show, in words; null when there is. */
  problem: string | null;
}

export interface SidesQuestion {
  part: string;
  left: TapQuestion;
  right: TapQuestion;
}

/** A rate fitted to the station's clock; the node's own may be off by per cents. */
const RATE_TOLERANCE_SHARE = 1e-3;

/** Raps recorded at one location: how the part rings. */
export async function tapTest(question: TapQuestion): Promise<TapAnswer> {
  const { found, sampleRateHz, axis, problem } = await ringDownsOf(question);
  return { raps: found.length, sampleRateHz, axis, modes: repeatedModes(found), problem };
}

/** Two like parts, left against right. */
export async function tapSides({ part, left, right }: SidesQuestion): Promise<SideComparison> {
  const [one, other] = [await ringDownsOf(left), await ringDownsOf(right)];
  return compareSides(part, one.found, other.found);
}

async function ringDownsOf({ source, span, leadMs }: TapQuestion): Promise<{
  found: RingDown[];
  sampleRateHz: number;
  axis: string;
  problem: string | null;
}> {
  const [place] = await cutPlaces(source, [span], leadMs);
  const stretch = place?.stretches.toSorted((a, b) => b.samples[0]!.length - a.samples[0]!.length)[0];
  if (stretch === undefined)
    return { found: [], sampleRateHz: 0, axis: '', problem: 'no samples were recorded in this span' };
  const scale = (stretch.fullScaleMPerS2 || 32768) / 32768;
  const axes = stretch.samples.map((samples) => Float64Array.from(samples, (value) => value * scale));
  const swings = axes.map((samples) => {
    const mean = samples.reduce((sum, value) => sum + value, 0) / samples.length;
    return samples.reduce((most, value) => Math.max(most, Math.abs(value - mean)), 0);
  });
  const best = swings.indexOf(Math.max(...swings));
  const common = { sampleRateHz: stretch.sampleRateHz, axis: stretch.axes[best]! };
  try {
    const options = { sampleRateToleranceShare: RATE_TOLERANCE_SHARE };
    return { ...common, found: ringDowns(axes[best]!, stretch.sampleRateHz, options), problem: null };
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    return { ...common, found: [], problem: error.message };
  }
}
