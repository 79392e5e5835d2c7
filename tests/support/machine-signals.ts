/**
 * Synthetic machine signals whose truth is known: a local-defect model (impulses that slip, resonance, passage
 * through the loaded zone) in noise, with the harmless things a healthy machine does too. After McFadden and
 * Smith 1984 and Antoni and Randall 2003, in simplified form.
 */
import { type BearingMultipliers, bearingMultipliers } from '../../collector/drivetrain/bearing.ts';

export type Random = () => number;

/** mulberry32: small, seeded, good enough for test signals. */
export function seededRandom(seed: number): Random {
  let state = (seed * 2654435761) >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

export function gaussian(random: Random): number {
  return Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}

const between = (random: Random, low: number, high: number) => low + (high - low) * random();
const rms = (values: Float64Array) => Math.sqrt(values.reduce((s, v) => s + v * v, 0) / values.length);

/** Two-pole resonator run over the samples in place, unit gain at its peak. */
function resonate(samples: Float64Array, rate: number, hz: number, damping: number): Float64Array {
  const radius = Math.exp((-2 * Math.PI * hz * damping) / rate);
  const a1 = 2 * radius * Math.cos((2 * Math.PI * hz) / rate);
  const a2 = -radius * radius;
  const gain =
    (1 - radius) * Math.sqrt(1 - 2 * radius * Math.cos((4 * Math.PI * hz) / rate) + radius * radius);
  const out = new Float64Array(samples.length);
  let y1 = 0;
  let y2 = 0;
  for (let k = 0; k < samples.length; k++) {
    const y = gain * samples[k]! + a1 * y1 + a2 * y2;
    y2 = y1;
    y1 = y;
    out[k] = y;
  }
  return out;
}

export interface Machine {
  rate: number;
  seconds: number;
  /** True speed of the shaft. */
  shaftHz: number;
  /** Speed as stated to the analysis. */
  statedHz: number;
  multipliers: BearingMultipliers;
}

const RATES = [6400, 12_800, 25_600];

export function randomMachine(random: Random, rate = RATES[Math.floor(3 * random())]!): Machine {
  const shaftHz = between(random, 12, 50);
  const n = 7 + Math.floor(9 * random());
  const geometry = {
    rollingElements: n,
    elementDiameterMm: 8,
    pitchDiameterMm: 8 / between(random, 0.14, 0.27),
    contactAngleDeg: random() < 0.7 ? 0 : between(random, 10, 40),
  };
  return {
    rate,
    seconds: between(random, 4, 10),
    shaftHz,
    statedHz: shaftHz * (1 + (random() < 0.5 ? 0 : between(random, -0.008, 0.008))),
    multipliers: bearingMultipliers(geometry),
  };
}

/** What a healthy machine does, with an overall level of about 1 m/s². */
export function healthySignal(machine: Machine, random: Random): Float64Array {
  const { rate, shaftHz } = machine;
  const n = Math.round(machine.seconds * rate);
  const white = Float64Array.from({ length: n }, () => gaussian(random));
  const out = white.map((v) => 0.3 * v);
  // Structure: noise coloured by resonances.
  for (let k = Math.floor(4 * random()); k > 0; k--) {
    const fresh = Float64Array.from({ length: n }, () => gaussian(random));
    const shaped = resonate(fresh, rate, between(random, 0.03, 0.45) * rate, between(random, 0.01, 0.08));
    add(out, shaped, between(random, 0.1, 1) / rms(shaped));
  }
  // Rubbing and load that vary with the turn.
  if (random() < 0.4)
    modulate(out, rate, shaftHz, [between(random, 0, 0.5), between(random, 0, 0.3)], random);
  // Unbalance, misalignment, looseness.
  for (let order = 1; order <= 8; order++) {
    if (random() < 0.6) tone(out, rate, order * shaftHz, between(random, 0, 2) / order, random);
  }
  // Gear mesh, two harmonics, modulated by the shaft.
  if (random() < 0.5) {
    const mesh = Math.floor(between(random, 11, 45)) * shaftHz;
    const phase = 2 * Math.PI * random();
    const depth = between(random, 0, 0.6);
    const level = between(random, 0.1, 2);
    for (const harmonic of [1, 2]) {
      if (harmonic * mesh > 0.45 * rate) break;
      for (let k = 0; k < n; k++) {
        const t = k / rate;
        const swell = 1 + depth * Math.cos(2 * Math.PI * shaftHz * t + phase);
        out[k]! +=
          (level / harmonic) * swell * Math.cos(2 * Math.PI * harmonic * mesh * t + harmonic * phase);
      }
    }
  }
  // Tones that belong to nothing, and mains hum.
  for (let k = Math.floor(4 * random()); k > 0; k--) {
    tone(out, rate, between(random, 0.005, 0.45) * rate, between(random, 0.05, 0.8), random);
  }
  if (random() < 0.3)
    for (const hz of [100, 200, 300]) tone(out, rate, hz, between(random, 0.05, 0.5), random);
  // A few knocks that do not repeat.
  if (random() < 0.25) {
    const knocks = new Float64Array(n);
    for (let k = 1 + Math.floor(5 * random()); k > 0; k--)
      knocks[Math.floor(n * random())] = gaussian(random);
    const ringing = resonate(knocks, rate, between(random, 0.1, 0.4) * rate, 0.03);
    add(out, ringing, between(random, 2, 20) / ringing.reduce((m, v) => Math.max(m, Math.abs(v)), 0));
  }
  return out;
}

/** Noise whose strength swells with some period that is no bearing's and no shaft's: a harder healthy case. */
export function foreignPeriodicity(machine: Machine, random: Random): { signal: Float64Array; hz: number } {
  const signal = healthySignal(machine, random);
  const hz = machine.shaftHz * between(random, 0.3, 8);
  modulate(signal, machine.rate, hz, [between(random, 0.1, 0.5), between(random, 0.05, 0.3)], random);
  return { signal, hz };
}

export interface Defect {
  part: 'outer' | 'inner' | 'ball' | 'cage';
  /** Power of the defect's signal over the power of all else in the record, dB. */
  snrDb: number;
  /** Bias of the true repetition against the kinematic one, share. */
  slip: number;
  /** Random part of each period, share (accumulates, as slipping cages do). */
  jitter: number;
}

/** Adds a local defect to a healthy signal. */
export function addDefect(
  signal: Float64Array,
  machine: Machine,
  defect: Defect,
  random: Random,
): Float64Array {
  const { rate, shaftHz, multipliers } = machine;
  const n = signal.length;
  const cageHz = multipliers.cage * shaftHz;
  const turning = multipliers.outerRing === 'turning';
  const [perTurn, loadHz] = {
    outer: [multipliers.outer, turning ? shaftHz : 0] as const,
    inner: [multipliers.inner, turning ? 0 : shaftHz] as const,
    ball: [2 * multipliers.ballSpin, cageHz] as const,
    cage: [multipliers.cage, 0] as const,
  }[defect.part];
  const period = 1 / (perTurn * shaftHz * (1 + defect.slip));
  const impulses = new Float64Array(n);
  const loadPhase = 2 * Math.PI * random();
  const zone = between(random, 0.5, 1.2);
  let strike = 0;
  for (
    let t = period * random();
    t < machine.seconds;
    t += period * (1 + defect.jitter * gaussian(random)), strike++
  ) {
    const at = t * rate;
    const k = Math.floor(at);
    if (k + 1 >= n) break;
    // Stribeck's load distribution: nothing outside the loaded zone.
    const angle = 2 * Math.PI * loadHz * t + loadPhase;
    const load = loadHz === 0 ? 1 : Math.max(0, 1 - (1 - Math.cos(angle)) / (2 * zone)) ** 1.5;
    // A ball meets the outer and the inner race in turn; the inner one's path to the sensor is longer.
    const path = defect.part === 'ball' && strike % 2 === 1 ? 0.6 : 1;
    const size = load * path * (1 + 0.2 * gaussian(random));
    impulses[k]! += size * (1 - (at - k));
    impulses[k + 1]! += size * (at - k);
  }
  const ringing = new Float64Array(n);
  for (let modes = 1 + Math.floor(2 * random()); modes > 0; modes--) {
    const part = resonate(impulses, rate, between(random, 0.08, 0.42) * rate, between(random, 0.02, 0.08));
    add(ringing, part, 1 / Math.max(rms(part), 1e-12));
  }
  const out = signal.slice();
  add(out, ringing, (10 ** (defect.snrDb / 20) * rms(signal)) / Math.max(rms(ringing), 1e-12));
  return out;
}

function add(target: Float64Array, values: Float64Array, gain: number): void {
  for (let k = 0; k < target.length; k++) target[k]! += gain * values[k]!;
}

function tone(target: Float64Array, rate: number, hz: number, amplitude: number, random: Random): void {
  const phase = 2 * Math.PI * random();
  for (let k = 0; k < target.length; k++)
    target[k]! += amplitude * Math.sin((2 * Math.PI * hz * k) / rate + phase);
}

function modulate(target: Float64Array, rate: number, hz: number, depths: number[], random: Random): void {
  const phases = depths.map(() => 2 * Math.PI * random());
  for (let k = 0; k < target.length; k++) {
    let swell = 1;
    depths.forEach((depth, h) => {
      swell += depth * Math.cos((2 * Math.PI * (h + 1) * hz * k) / rate + phases[h]!);
    });
    target[k]! *= swell;
  }
}
