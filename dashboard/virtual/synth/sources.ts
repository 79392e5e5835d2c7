import type { Operating } from './operating.ts';
import { gaussian, uniform } from './random.ts';

/** Something that shakes: its acceleration in m/s², one sample after the other. */
export type Source = (operating: Operating, stepS: number) => number;

/** A tone that turns with a shaft: `order` periods a revolution of the speed that `speedHz` picks. */
export function orderTone(
  speedHz: (operating: Operating) => number,
  order: number,
  amplitude: (operating: Operating, toneHz: number) => number,
): Source {
  let phase = 0;
  return (operating, stepS) => {
    const toneHz = speedHz(operating) * order;
    phase = (phase + toneHz * stepS) % 1;
    return amplitude(operating, toneHz) * Math.sin(2 * Math.PI * phase);
  };
}

/** Amplitude, in m/s², of a tone whose velocity RMS is to be `velocityRmsMmPerS`. */
export function amplitudeOf(velocityRmsMmPerS: number, toneHz: number): number {
  return (velocityRmsMmPerS / 1e3) * Math.SQRT2 * 2 * Math.PI * toneHz;
}

/** Broadband noise below `cornerHz` (one pole), of the given RMS before the corner takes its part. */
export function roadNoise(seed: number, cornerHz: number, rms: (operating: Operating) => number): Source {
  const next = gaussian(seed);
  let state = 0;
  return (operating, stepS) => {
    const weight = Math.exp(-2 * Math.PI * cornerHz * stepS);
    state = weight * state + Math.sqrt(1 - weight * weight) * next();
    return rms(operating) * state;
  };
}

/**
 * A local defect: each passage strikes a resonance, which rings down (single-degree-of-freedom response). The
 * interval between strikes slips by about 1 %, as rolling elements do.
 */
export function passingDefect(
  seed: number,
  defectHz: (operating: Operating) => number,
  resonance: { frequencyHz: number; dampingRatio: number },
  strike: (operating: Operating) => number,
): Source {
  const random = uniform(seed);
  const ring = resonator(resonance);
  let phase = 0;
  let interval = 1;
  return (operating, stepS) => {
    phase += defectHz(operating) * stepS;
    const struck = phase >= interval;
    if (struck) {
      phase -= interval;
      interval = 1 + 0.01 * (random() - 0.5);
    }
    return ring(struck ? strike(operating) : 0, stepS);
  };
}

/** A loose sheet: strikes at random moments, only while `strikesPerS` says so. */
export function looseSheet(
  seed: number,
  strikesPerS: (operating: Operating) => number,
  resonance: { frequencyHz: number; dampingRatio: number },
  strike: number,
): Source {
  const random = uniform(seed);
  const ring = resonator(resonance);
  return (operating, stepS) =>
    ring(random() < strikesPerS(operating) * stepS ? strike * (0.5 + random()) : 0, stepS);
}

/** Two-pole resonator, impulse-invariant: a strike of 1 rings with a first swing of about 1. */
function resonator({ frequencyHz, dampingRatio }: { frequencyHz: number; dampingRatio: number }) {
  let last = 0;
  let beforeLast = 0;
  return (strike: number, stepS: number): number => {
    const angle = 2 * Math.PI * frequencyHz * stepS;
    const decay = Math.exp(-dampingRatio * angle);
    const value = strike + 2 * decay * Math.cos(angle) * last - decay * decay * beforeLast;
    beforeLast = last;
    last = value;
    return value * Math.sin(angle);
  };
}
