import type { Span } from '../capture/capture.ts';
import { endMs } from '../capture/stretches.ts';
import type { LocationRecord } from '../compare/index.ts';
import { createRattleDetector } from '../measure/rattle.ts';
import type { Place } from './source.ts';

export interface AlignedRecord extends LocationRecord {
  /** Seconds not used because the sensor banged in its clamp. */
  rattlingSeconds: number;
}

/** Samples beyond a second's end that must be there, for rounding. */
const EDGE_MS = 1;

/**
 * The samples of a place in the chosen seconds, laid end to end: second k of every place's record is the same second of
 * event time. A second without whole, sound samples is marked unusable. Null when the place has no samples at all, or
 * the node does not know its scale.
 */
export function alignedRecord(place: Place, seconds: readonly number[]): AlignedRecord | null {
  const first = place.stretches[0];
  if (first === undefined || place.stretches.some(({ fullScaleMPerS2 }) => fullScaleMPerS2 === 0))
    return null;
  // Another sensor during the run may have another rate: the first one's seconds count.
  const alike = place.stretches.filter(
    ({ sampleRateHz, axes }) =>
      Math.abs(sampleRateHz / first.sampleRateHz - 1) < 0.01 && axes.length === first.axes.length,
  );
  const total = alike.reduce((sum, { samples }) => sum + samples[0]!.length, 0);
  const seconds1 = alike.reduce((sum, one) => sum + (endMs(one) - one.startMs) / 1000, 0);
  const sampleRateHz = total / seconds1;
  const startOf = (k: number) => Math.round(k * sampleRateHz);
  const axes = first.axes.map(() => new Float64Array(startOf(seconds.length)));
  const isRattling = createRattleDetector(sampleRateHz);
  const unusableWindows: number[] = [];
  let rattlingSeconds = 0;
  for (const [k, second] of seconds.entries()) {
    const span = { fromMs: 1000 * second, toMs: 1000 * (second + 1) };
    const stretch = alike.find(
      (one) => one.startMs <= span.fromMs + EDGE_MS && endMs(one) >= span.toMs - EDGE_MS,
    );
    if (stretch === undefined || stretch.clipped.some((clipped) => touches(clipped, span))) {
      unusableWindows.push(k);
      continue;
    }
    const count = startOf(k + 1) - startOf(k);
    const from = Math.max(0, Math.round(((span.fromMs - stretch.startMs) / 1000) * stretch.sampleRateHz));
    const scale = stretch.fullScaleMPerS2 / 32768;
    let rattles = false;
    for (const [axis, samples] of stretch.samples.entries()) {
      const into = axes[axis]!;
      for (let i = 0; i < count; i++) {
        // The last sample again where rounding asks for one more than there is.
        into[startOf(k) + i] = samples[Math.min(from + i, samples.length - 1)]! * scale;
      }
      rattles ||= isRattling(into.subarray(startOf(k), startOf(k + 1)));
    }
    if (!rattles) continue;
    rattlingSeconds++;
    unusableWindows.push(k);
  }
  const uncertainties = alike.map(({ timeUncertaintyMs }) => timeUncertaintyMs);
  return {
    id: String(place.locationId),
    name: place.name,
    board: first.board,
    sampleRateHz,
    axes,
    timeUncertaintyMs: uncertainties.includes(null) ? null : Math.max(...(uncertainties as number[])),
    unusableWindows,
    rattlingSeconds,
  };
}

const touches = (a: Span, b: Span) => a.fromMs < b.toMs && a.toMs > b.fromMs;
