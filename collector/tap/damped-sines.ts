import { solveLinear } from '../dsp/linear-solve.ts';

/** exp(-decay t) (inPhase cos(2 pi f t) + quadrature sin(2 pi f t)), t from the first sample fitted. */
export interface DampedSine {
  frequencyHz: number;
  decayPerS: number;
  inPhase: number;
  quadrature: number;
}

export interface DampedFit {
  modes: DampedSine[];
  residual: Float64Array;
  /**
   * Covariance of the parameters in the order frequency, decay, inPhase, quadrature of each mode, for noise of
   * variance 1 per sample.
   */
  unitCovariance: number[][];
}

const ITERATIONS = 40;
/** Relative fall of the sum of squares below which the fit has settled. */
const SETTLED = 1e-9;

/**
 * Least squares of a sum of damped sines, all modes at once, by Levenberg and Marquardt's damped Gauss-Newton steps
 * (D. W. Marquardt 1963). For white noise this reaches the Cramér-Rao bound, which the inverse of J'J states.
 */
export function fitDampedSines(
  samples: Float64Array,
  sampleRateHz: number,
  start: readonly DampedSine[],
): DampedFit {
  let modes = start.map((mode) => ({ ...mode }));
  let residual = subtract(samples, sampleRateHz, modes);
  let squares = sumOfSquares(residual);
  let damping = 1e-3;
  for (let iteration = 0; iteration < ITERATIONS; iteration++) {
    const { normal, gradient } = normalEquations(residual, sampleRateHz, modes);
    const damped = normal.map((row, i) => row.map((value, j) => (i === j ? value * (1 + damping) : value)));
    const step = solveOrNull(damped, gradient);
    const trial = step === null ? null : stepped(modes, step, sampleRateHz);
    const trialResidual = trial === null ? null : subtract(samples, sampleRateHz, trial);
    const trialSquares = trialResidual === null ? Number.POSITIVE_INFINITY : sumOfSquares(trialResidual);
    if (trialSquares < squares) {
      const gain = (squares - trialSquares) / squares;
      modes = trial!;
      residual = trialResidual!;
      squares = trialSquares;
      damping = Math.max(1e-9, damping / 8);
      if (gain < SETTLED) break;
    } else {
      damping *= 8;
      if (damping > 1e8) break;
    }
  }
  return { modes, residual, unitCovariance: inverse(normalEquations(residual, sampleRateHz, modes).normal) };
}

/** The samples without these modes. */
function subtract(samples: Float64Array, sampleRateHz: number, modes: readonly DampedSine[]): Float64Array {
  const rest = samples.slice();
  for (const { frequencyHz, decayPerS, inPhase, quadrature } of modes) {
    const turn = rotation(frequencyHz, decayPerS, sampleRateHz);
    let [re, im] = [1, 0];
    for (let k = 0; k < rest.length; k++) {
      rest[k]! -= inPhase * re + quadrature * im;
      [re, im] = [re * turn.re - im * turn.im, re * turn.im + im * turn.re];
    }
  }
  return rest;
}

function rotation(frequencyHz: number, decayPerS: number, sampleRateHz: number) {
  const size = Math.exp(-decayPerS / sampleRateHz);
  const angle = (2 * Math.PI * frequencyHz) / sampleRateHz;
  return { re: size * Math.cos(angle), im: size * Math.sin(angle) };
}

/** J'J and J'residual; columns by frequency, decay and both amplitudes of each mode. */
function normalEquations(residual: Float64Array, sampleRateHz: number, modes: readonly DampedSine[]) {
  const columns = modes.flatMap(({ frequencyHz, decayPerS, inPhase, quadrature }) => {
    const turn = rotation(frequencyHz, decayPerS, sampleRateHz);
    const [byFrequency, byDecay, byIn, byQuad] = [0, 1, 2, 3].map(() => new Float64Array(residual.length));
    let [re, im] = [1, 0];
    for (let k = 0; k < residual.length; k++) {
      const t = k / sampleRateHz;
      byFrequency![k] = 2 * Math.PI * t * (quadrature * re - inPhase * im);
      byDecay![k] = -t * (inPhase * re + quadrature * im);
      byIn![k] = re;
      byQuad![k] = im;
      [re, im] = [re * turn.re - im * turn.im, re * turn.im + im * turn.re];
    }
    return [byFrequency!, byDecay!, byIn!, byQuad!];
  });
  const normal = columns.map((a) => columns.map((b) => dot(a, b)));
  return { normal, gradient: columns.map((a) => dot(a, residual)) };
}

function stepped(
  modes: readonly DampedSine[],
  step: readonly number[],
  sampleRateHz: number,
): DampedSine[] | null {
  const next = modes.map((mode, m) => ({
    frequencyHz: mode.frequencyHz + step[4 * m]!,
    decayPerS: mode.decayPerS + step[4 * m + 1]!,
    inPhase: mode.inPhase + step[4 * m + 2]!,
    quadrature: mode.quadrature + step[4 * m + 3]!,
  }));
  // A mode that grows, or lies outside of what can be sampled, is no ring-down.
  const sound = next.every(
    ({ frequencyHz, decayPerS }) => decayPerS > 0 && frequencyHz > 0 && frequencyHz < sampleRateHz / 2,
  );
  return sound ? next : null;
}

function solveOrNull(matrix: number[][], rightSide: number[]): number[] | null {
  // Columns differ by powers of ten in size: scaled to a unit diagonal before solving.
  const scale = matrix.map((row, i) => 1 / Math.sqrt(Math.max(row[i]!, Number.MIN_VALUE)));
  try {
    const solved = solveLinear(
      matrix.map((row, i) => row.map((value, j) => value * scale[i]! * scale[j]!)),
      rightSide.map((value, i) => value * scale[i]!),
    );
    return solved.map((value, i) => value * scale[i]!);
  } catch {
    return null;
  }
}

function inverse(matrix: number[][]): number[][] {
  const columns = matrix.map((_, i) =>
    solveOrNull(
      matrix,
      matrix.map((_, j) => (i === j ? 1 : 0)),
    ),
  );
  return matrix.map((_, i) => columns.map((column) => column?.[i] ?? Number.POSITIVE_INFINITY));
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < a.length; k++) sum += a[k]! * b[k]!;
  return sum;
}

const sumOfSquares = (values: Float64Array) => dot(values, values);
