/**
 * A sensor that is not held tight, whose truth is known: a mass that touches its base through a stiff contact spring
 * which pushes and cannot pull (a bilinear oscillator; S. W. Shaw and P. J. Holmes, J. Sound Vib. 90, 1983), pressed on
 * by a clamp that has lost its force, or free to move in a gap between two contacts.
 */
import { gaussian, type Random } from './machine-signals.ts';

export interface Clamp {
  /** Acceleration by which the clamp and gravity press the sensor on, m/s². */
  preloadMPerS2: number;
  /** Resonance of the sensor on its contact, and on the clamp's own spring alone, Hz. */
  contactHz: number;
  clampSpringHz: number;
  /** Share of critical damping of the contact: what an impact loses. */
  contactDamping: number;
  /** Room to a second contact, m; infinite for a sensor that is pressed on from one side. */
  gapM: number;
  /** The sensor's own body rings after an impact: Hz, share of critical damping, and how much of it is read. */
  ring: { hz: number; damping: number; share: number };
}

export interface LooseRecord {
  /** What the sensor reads, m/s². */
  samples: Float64Array;
  /** Share of time without contact. */
  apart: number;
}

const STEPS_PER_PERIOD = 24;
/** Sensors see no more than about this share of their rate. */
const SENSOR_BAND = 0.4;

/**
 * @param base acceleration of the machine's surface at `rate`, m/s²
 * @param noiseRms of the sensor, m/s²
 */
export function clampedSensor(
  base: Float64Array,
  rate: number,
  clamp: Clamp,
  noiseRms: number,
  random: Random,
): LooseRecord {
  const { preloadMPerS2, contactHz, clampSpringHz, contactDamping, gapM, ring } = clamp;
  const fine = Math.max(4, Math.ceil((STEPS_PER_PERIOD * Math.max(contactHz, ring.hz)) / rate));
  const dt = 1 / (fine * rate);
  const wc = 2 * Math.PI * contactHz;
  const ws = 2 * Math.PI * clampSpringHz;
  const smooth = lowPass(SENSOR_BAND / fine);
  const wr = 2 * Math.PI * ring.hz;
  const samples = new Float64Array(base.length);
  // Distance from the first contact, against the base; it begins at rest.
  let u = -preloadMPerS2 / (wc * wc + ws * ws);
  let speed = 0;
  let out = 0;
  let free = 0;
  let bent = 0;
  let bending = 0;
  for (let k = 0; k < base.length; k++) {
    const from = base[k]!;
    const step = ((base[k + 1] ?? from) - from) / fine;
    for (let m = 0; m < fine; m++) {
      let own = -preloadMPerS2 - ws * ws * u;
      if (u < 0) own += Math.max(0, -wc * wc * u - 2 * contactDamping * wc * speed);
      else if (u > gapM) own -= Math.max(0, wc * wc * (u - gapM) + 2 * contactDamping * wc * speed);
      else free++;
      speed += (own - (from + step * m)) * dt;
      u += speed * dt;
      // A mode driven by the body's acceleration; the body reads its own and some of the mode's.
      const force = -wr * wr * bent - 2 * ring.damping * wr * bending;
      bending += (force - own) * dt;
      bent += bending * dt;
      out = smooth(own + ring.share * (force - own));
    }
    samples[k] = out + noiseRms * gaussian(random);
  }
  return { samples, apart: free / (fine * base.length) };
}

/** Butterworth of order 4, at a share of the fine rate. */
function lowPass(cutoff: number): (value: number) => number {
  const sections = [0.5412, 1.3066].map((q) => {
    const w = Math.tan(Math.PI * cutoff);
    const norm = 1 / (1 + w / q + w * w);
    return { b: w * w * norm, a1: 2 * (w * w - 1) * norm, a2: (1 - w / q + w * w) * norm, z1: 0, z2: 0 };
  });
  return (value) => {
    let x = value;
    for (const s of sections) {
      const y = s.b * x + s.z1;
      s.z1 = 2 * s.b * x - s.a1 * y + s.z2;
      s.z2 = s.b * x - s.a2 * y;
      x = y;
    }
    return x;
  };
}
