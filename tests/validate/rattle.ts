/**
 * How often is a rattling clamp seen, and how often is a tight one called rattling? Synthetic seconds whose truth is
 * known. `npm run validate -- rattle` prints the table; limits were set with other seeds.
 */
import { createChannelMeter } from '../../collector/measure/channel-meter.ts';
import { createRattleDetector } from '../../collector/measure/rattle.ts';
import { type Clamp, clampedSensor } from '../support/loose-clamp.ts';
import {
  addDefect,
  foreignPeriodicity,
  gaussian,
  healthySignal,
  type Random,
  randomMachine,
  seededRandom,
} from '../support/machine-signals.ts';

const RATES = [1600, 3200, 6400, 12_800, 25_600];
const PARTS = ['outer', 'inner', 'ball', 'cage'] as const;
const SECONDS = 2.05;

export interface RattleOutcome {
  /** What the second is, in words. */
  group: string;
  /** The sensor leaves its seat and its level is off by 25 % or more: it should be flagged. */
  falsified: boolean;
  /** The sensor never leaves its seat: it should not. */
  tight: boolean;
  flagged: boolean;
}

const between = (random: Random, low: number, high: number) => low + (high - low) * random();
const decades = (random: Random, low: number, high: number) => 10 ** between(random, low, high);

export function* rattleOutcomes(count: number, seed: number): Generator<RattleOutcome> {
  const random = seededRandom(seed);
  for (let k = 0; k < count; k++) {
    const rate = RATES[k % RATES.length]!;
    const isRattling = createRattleDetector(rate);
    const machine = { ...randomMachine(random, rate), seconds: SECONDS };
    const level = decades(random, 0, 1.5);
    const judged = (samples: Float64Array) => isRattling(samples.subarray(rate, 2 * rate));
    const tight = (group: string, samples: Float64Array): RattleOutcome => ({
      group,
      falsified: false,
      tight: true,
      flagged: judged(samples),
    });
    const healthy = healthySignal(machine, random);
    const base = healthy.map((value) => level * value);
    yield tight('sound machine', base);
    yield tight(
      'sound machine, swelling',
      foreignPeriodicity(machine, random).signal.map((value) => level * value),
    );
    const part = PARTS[k % 4]!;
    const snrDb = between(random, -10, 20);
    const defect = addDefect(healthy, machine, { part, snrDb, slip: 0, jitter: 0.01 }, random);
    yield tight(
      'bearing defect, -10 to 20 dB',
      defect.map((value) => level * value),
    );
    yield tight('machine that hammers', hammering(random, rate, healthy));
    const clamp = randomClamp(random, rate);
    const firm = { ...clamp, preloadMPerS2: 2000, gapM: Number.POSITIVE_INFINITY };
    const noise = decades(random, -2.5, -0.8);
    yield tight('tight clamp', clampedSensor(base, rate, firm, noise, random).samples);
    const { samples, apart } = clampedSensor(base, rate, clamp, noise, random);
    const ratio = velocityOf(samples, rate) / velocityOf(base, rate);
    const offPct = 100 * (Math.max(ratio, 1 / ratio) - 1);
    const kind = Number.isFinite(clamp.gapM) ? 'loose to both sides' : 'loose to one side';
    yield {
      group: `${kind}, ${apart < 0.05 ? 'keeps contact' : offBy(offPct)}`,
      falsified: apart >= 0.05 && offPct >= 25,
      tight: apart < 0.05,
      flagged: judged(samples),
    };
  }
}

const offBy = (pct: number) =>
  pct < 10
    ? 'level off by less than 10 %'
    : pct < 25
      ? 'by 10 to 25 %'
      : pct < 100
        ? 'by 25 to 100 %'
        : 'by more';

function randomClamp(random: Random, rate: number): Clamp {
  const bothSides = random() < 0.4;
  return {
    preloadMPerS2: bothSides ? 9.8 * random() : decades(random, -0.5, 1.3),
    contactHz: decades(random, 2.8, 3.8),
    clampSpringHz: bothSides ? 0 : decades(random, 0, 2),
    contactDamping: between(random, 0.03, 0.4),
    gapM: bothSides ? decades(random, -5, -3.3) : Number.POSITIVE_INFINITY,
    ring: {
      hz: Math.min(between(random, 400, 6000), 1.8 * rate),
      damping: between(random, 0.01, 0.1),
      share: random() < 0.5 ? 0 : random(),
    },
  };
}

/** Blows of 0.2 to 6 ms, 4 to 60 a second, into modes of 10 to 2000 Hz; little else is heard. The hardest tight case. */
function hammering(random: Random, rate: number, healthy: Float64Array): Float64Array {
  const length = healthy.length;
  const blowHz = between(random, 4, 60);
  const blow = Math.max(1, Math.round(rate * decades(random, -3.7, -2.2)));
  const force = new Float64Array(length);
  for (let t = random() / blowHz; t < SECONDS; t += (1 + 0.05 * gaussian(random)) / blowHz) {
    const size = 1 + 0.2 * gaussian(random);
    const at = Math.floor(t * rate);
    for (let k = 0; k < blow && at + k < length; k++)
      force[at + k]! += size * Math.sin((Math.PI * (k + 0.5)) / blow);
  }
  const sum = new Float64Array(length);
  for (let modes = 1 + Math.floor(3 * random()); modes > 0; modes--) {
    const hz = Math.min(0.4 * rate, decades(random, 1, 3.3));
    const gain = between(random, 0.2, 1);
    const own = struck(force, rate, hz, between(random, 0.01, 0.15));
    for (let k = 0; k < length; k++) sum[k]! += gain * own[k]!;
  }
  const rms = (values: Float64Array) => Math.sqrt(values.reduce((s, v) => s + v * v, 0) / values.length);
  const gain = 10 / rms(sum);
  const background = (10 * decades(random, -2, 0)) / rms(healthy);
  return sum.map((value, k) => gain * value + background * healthy[k]!);
}

/** Acceleration of one mode under a force. */
function struck(force: Float64Array, rate: number, hz: number, damping: number): Float64Array {
  const fine = Math.max(1, Math.ceil((20 * hz) / rate));
  const dt = 1 / (rate * fine);
  const w = 2 * Math.PI * hz;
  let place = 0;
  let speed = 0;
  return force.map((push) => {
    let own = 0;
    for (let m = 0; m < fine; m++) {
      own = push - w * w * place - 2 * damping * w * speed;
      speed += own * dt;
      place += speed * dt;
    }
    return own;
  });
}

function velocityOf(samples: Float64Array, sampleRateHz: number): number {
  const meter = createChannelMeter({ sampleRateHz, fullScaleMPerS2: 1e9 });
  meter.feed(samples.subarray(0, sampleRateHz));
  meter.closeBlock();
  meter.feed(samples.subarray(sampleRateHz, 2 * sampleRateHz));
  return meter.closeBlock().velocityRmsMmPerS!;
}

export function validateRattle(count: number, print: (line: string) => void): void {
  const groups = new Map<string, [flagged: number, all: number]>();
  for (const { group, flagged } of rattleOutcomes(count, 2026)) {
    const [before, all] = groups.get(group) ?? [0, 0];
    groups.set(group, [before + (flagged ? 1 : 0), all + 1]);
  }
  print('| second of | seconds | flagged `rattle` |\n| --- | --- | --- |');
  for (const [group, [flagged, all]] of [...groups].sort(([a], [b]) => a.localeCompare(b)))
    print(`| ${group} | ${all} | ${flagged} (${((100 * flagged) / all).toFixed(1)} %) |`);
}
