import { resolutionOf } from './resolution.ts';

/**
 * Signs in the samples themselves that a block cannot be trusted: clipping and a stuck sensor. Both are seen
 * from runs of identical samples, in one pass; each block is judged by itself. Limits are common practice, no
 * source. Not seen: clipping that lasts under three samples below digital full scale, or that noise rides on.
 */
interface SignalFaults {
  clipped: boolean;
  stuck: boolean;
}

export interface SignalFaultDetector {
  add(samples: Float64Array): void;
  /** What the samples since the last `take` show, and starts anew. */
  take(): SignalFaults;
}

/** One step of 16 bits below full scale still counts as full scale: its largest positive value is there. */
const FULL_SCALE_SHARE = 1 - 2 ** -15 - 1e-9;
/** Identical samples that make a flat top. */
const FLAT_TOP_SAMPLES = 3;
/**
 * A smooth peak that rounding makes flat over 3 or more samples leaves its plateau by at most two steps of the
 * number format (a parabola through it says so); a clipped one by as much as the signal moves between samples.
 */
const FLAT_TOP_EDGE_STEPS = 8;
/** A run of identical samples this long is no slow vibration any more: half a period at 10 Hz. */
const STUCK_S = 0.05;
/** Highest chance, per block, that noise alone makes a run called stuck. */
const STUCK_CHANCE = 1e-9;
/** Changes of value kept to find the step of the number format from. */
const KEPT_CHANGES = 64;

/** Outermost run of identical samples: its value, and the smaller of the changes onto it and off it. */
interface Flat {
  value: number;
  edge: number;
}

/** @param fullScale value at digital full scale in the unit of the samples; 0 when not known */
export function createSignalFaultDetector(fullScale: number, sampleRateHz: number): SignalFaultDetector {
  const limit = fullScale > 0 ? fullScale * FULL_SCALE_SHARE : Number.POSITIVE_INFINITY;
  const stuckSamples = Math.max(16, Math.ceil(STUCK_S * sampleRateHz));
  const changes = new Float64Array(KEPT_CHANGES);

  let previous = Number.NaN;
  /** Identical samples up to now, and the change that led to them (not a number: not known). */
  let run = 0;
  let changeIn = Number.NaN;
  let count = 0;
  let changeCount = 0;
  let longestRun = 0;
  let top = Number.NEGATIVE_INFINITY;
  let bottom = Number.POSITIVE_INFINITY;
  let flatTop: Flat = { value: top, edge: 0 };
  let flatBottom: Flat = { value: bottom, edge: 0 };

  function endRun(length: number, value: number, into: number, outOf: number): void {
    if (length > longestRun) longestRun = length;
    if (length < FLAT_TOP_SAMPLES) return;
    const edge = Math.min(Math.abs(into), Math.abs(outOf));
    if (into > 0 && outOf < 0 && value >= flatTop.value) {
      flatTop = { value, edge: value > flatTop.value ? edge : Math.max(edge, flatTop.edge) };
    } else if (into < 0 && outOf > 0 && value <= flatBottom.value) {
      flatBottom = { value, edge: value < flatBottom.value ? edge : Math.max(edge, flatBottom.edge) };
    }
  }

  function isClipped(): boolean {
    if (top >= limit || bottom <= -limit) return true;
    const topEdge = flatTop.value === top ? flatTop.edge : 0;
    const bottomEdge = flatBottom.value === bottom ? flatBottom.edge : 0;
    const edge = Math.max(topEdge, bottomEdge);
    if (edge === 0) return false;
    const kept = changes.subarray(0, Math.min(changeCount, KEPT_CHANGES));
    return edge > FLAT_TOP_EDGE_STEPS * resolutionOf(kept, Math.max(Math.abs(top), Math.abs(bottom)));
  }

  function isStuck(): boolean {
    if (longestRun < stuckSamples) return false;
    if (longestRun === count) return true;
    // Chance that a sample repeats the one before it, from the block outside the run.
    const others = count - longestRun;
    const repeat = (others - changeCount + 1) / others;
    return count * repeat ** longestRun < STUCK_CHANCE;
  }

  return {
    add(samples) {
      // Locals, because a number that a closure holds is allocated anew at every change.
      let [last, length, into, kept, highest, lowest] = [previous, run, changeIn, changeCount, top, bottom];
      for (let i = 0; i < samples.length; i++) {
        const value = samples[i]!;
        const change = value - last;
        if (change === 0) {
          length++;
          continue;
        }
        if (length > 1) endRun(length, last, into, change);
        length = 1;
        into = change;
        // The first sample of a block is no change, but counts as one: it may hold the place of a real one.
        if (kept < KEPT_CHANGES) changes[kept] = Math.abs(change);
        kept++;
        if (value > highest) highest = value;
        if (value < lowest) lowest = value;
        last = value;
      }
      [previous, run, changeIn, changeCount, top, bottom] = [last, length, into, kept, highest, lowest];
      count += samples.length;
    },
    take() {
      if (run > longestRun) longestRun = run;
      const faults = { clipped: isClipped(), stuck: isStuck() };
      previous = Number.NaN;
      run = 0;
      changeIn = Number.NaN;
      count = 0;
      changeCount = 0;
      longestRun = 0;
      top = Number.NEGATIVE_INFINITY;
      bottom = Number.POSITIVE_INFINITY;
      flatTop = { value: top, edge: 0 };
      flatBottom = { value: bottom, edge: 0 };
      return faults;
    },
  };
}
