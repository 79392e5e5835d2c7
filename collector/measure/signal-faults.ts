/**
 * Signs in the samples themselves that a block cannot be trusted: clipping and a stuck sensor. Both are seen
 * from runs of identical samples, in one pass. Limits are common practice, no source.
 */
export interface SignalFaults {
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
 * A smooth peak that quantisation makes flat over 3 or more samples leaves its plateau by at most two steps
 * (a parabola through it says so); a clipped one by as much as the signal moves between two samples.
 */
const FLAT_TOP_EDGE_STEPS = 8;
/** A run of identical samples this long is no slow vibration any more: half a period at 10 Hz. */
const STUCK_S = 0.05;
/** Highest chance, per block, that noise alone makes a run called stuck. */
const STUCK_CHANCE = 1e-9;

/** @param fullScale value at digital full scale in the unit of the samples; 0 when not known */
export function createSignalFaultDetector(fullScale: number, sampleRateHz: number): SignalFaultDetector {
  const limit = fullScale > 0 ? fullScale * FULL_SCALE_SHARE : Number.POSITIVE_INFINITY;
  const stuckSamples = Math.max(16, Math.ceil(STUCK_S * sampleRateHz));

  let previous = Number.NaN;
  /** Identical samples up to now, and the step that led to them (not a number: not known). */
  let run = 0;
  let stepIn = Number.NaN;

  let count = 0;
  let identicalPairs = 0;
  let longestRun = 0;
  let smallestStep = Number.POSITIVE_INFINITY;
  let top = Number.NEGATIVE_INFINITY;
  let bottom = Number.POSITIVE_INFINITY;
  let flatTop = noFlat(Number.NEGATIVE_INFINITY);
  let flatBottom = noFlat(Number.POSITIVE_INFINITY);

  /** A run of several samples ended with `stepOut`: remember it if it is the outermost flat. */
  function endRun(value: number, stepOut: number): void {
    if (run > longestRun) longestRun = run;
    if (run < FLAT_TOP_SAMPLES) return;
    const edge = Math.min(Math.abs(stepIn), Math.abs(stepOut));
    if (stepIn > 0 && stepOut < 0 && value >= flatTop.value) {
      flatTop = { value, edge: value > flatTop.value ? edge : Math.max(edge, flatTop.edge) };
    } else if (stepIn < 0 && stepOut > 0 && value <= flatBottom.value) {
      flatBottom = { value, edge: value < flatBottom.value ? edge : Math.max(edge, flatBottom.edge) };
    }
  }

  function isStuck(): boolean {
    if (longestRun < stuckSamples) return false;
    if (longestRun === count) return true;
    // Chance that a sample repeats the one before it, from the block outside the run.
    const others = count - longestRun;
    const repeat = (identicalPairs - (longestRun - 1)) / others;
    return count * repeat ** longestRun < STUCK_CHANCE;
  }

  return {
    add(samples) {
      for (let i = 0; i < samples.length; i++) {
        const value = samples[i]!;
        const step = value - previous;
        if (step === 0) {
          run++;
          identicalPairs++;
          continue;
        }
        if (run > 1) endRun(previous, step);
        run = 1;
        stepIn = step;
        const size = Math.abs(step);
        if (size < smallestStep) smallestStep = size;
        if (value > top) top = value;
        if (value < bottom) bottom = value;
        previous = value;
      }
      count += samples.length;
    },
    take() {
      if (run > longestRun) longestRun = run;
      const isFlat = (flat: Flat, extreme: number) =>
        flat.value === extreme && flat.edge > FLAT_TOP_EDGE_STEPS * smallestStep;
      const faults = {
        clipped: top >= limit || bottom <= -limit || isFlat(flatTop, top) || isFlat(flatBottom, bottom),
        stuck: isStuck(),
      };
      previous = Number.NaN;
      run = 0;
      stepIn = Number.NaN;
      count = 0;
      identicalPairs = 0;
      longestRun = 0;
      smallestStep = Number.POSITIVE_INFINITY;
      top = Number.NEGATIVE_INFINITY;
      bottom = Number.POSITIVE_INFINITY;
      flatTop = noFlat(Number.NEGATIVE_INFINITY);
      flatBottom = noFlat(Number.POSITIVE_INFINITY);
      return faults;
    },
  };
}

interface Flat {
  value: number;
  /** Smaller of the steps onto it and off it. */
  edge: number;
}

function noFlat(value: number): Flat {
  return { value, edge: 0 };
}
