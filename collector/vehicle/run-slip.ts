import { median, robustSd } from '../trend/robust.ts';
import { type ConverterState, clutchSlip, converterSlip, type ShaftSpeedValue, type Slip } from './slip.ts';

interface ToldSeries {
  quantity: string;
  /** Unix ms, rising. */
  atMs: readonly number[];
  value: readonly number[];
}

export interface RunSlipQuestion {
  told: readonly ToldSeries[];
  converter: ConverterState;
  /** Turns of the gearbox's input per turn of its output in a gear as the vehicle tells it; null where not known. */
  ratioIn(gear: string): number | null;
  /** One gear throughout: its ratio, in place of the gear told. */
  gearRatio?: number;
}

export interface SlipOverRun {
  /** What was compared: "engine" and "turbine", or "turbine" (or "engine") and "output". */
  driving: string;
  driven: string;
  answer: 'slip' | 'cannot-say';
  /** Middle of all moments, its expanded uncertainty (twice the standard deviation) and where 90 % of moments lie, rpm. */
  slipRpm: number | null;
  uncertaintyRpm: number | null;
  slipPercent: number | null;
  rangeRpm: [number, number] | null;
  /** Moments that could be judged, of all at which both speeds were told. */
  moments: number;
  of: number;
  /** What is usual, a hint and no limit, with where that comes from. */
  usual: { text: string; provenance: string } | null;
  against: 'within' | 'outside' | 'not-certain' | null;
  sentence: string;
}

/** Two speeds further apart in time belong to different moments. */
const MOST_APART_MS = 1_000;
/** Adapters ask for one value after the other and stamp them alike: so far apart they were read. Common practice, no source. */
const LEAST_APART_S = 0.1;
/** Around a change of gear clutches slip because they must. */
const SHIFT_MS = 1_500;
const GEAR_HOLDS_MS = 5_000;
const LEAST_MOMENTS = 5;
/** Fewer different values than this do not show their step. */
const LEAST_VALUES = 5;
/** Step of engine speed in SAE J1979 (from memory), and one of whole revolutions for the others. */
const USUAL_STEP_RPM: Readonly<Record<string, number>> = { engineSpeedRpm: 0.25 };

/** Slip of the torque converter and of the gearbox's clutches over a run, from the speeds that the vehicle told. */
export function runSlip(question: RunSlipQuestion): { converter: SlipOverRun; clutch: SlipOverRun } {
  const { told, converter, gearRatio, ratioIn } = question;
  const series = (quantity: string) => told.find((one) => one.quantity === quantity && one.value.length > 0);
  const [engine, turbine, output] = ['engineSpeedRpm', 'turbineSpeedRpm', 'outputSpeedRpm'].map(series);
  const gear = series('gear');
  const input = turbine ?? engine;
  const inputName = turbine === undefined ? 'engine' : 'turbine';
  const ratioAt = (atMs: number): number | null => {
    if (gearRatio !== undefined) return gearRatio;
    const now = gear === undefined ? null : steadyGear(gear, atMs);
    return now === null ? null : ratioIn(String(now));
  };
  return {
    converter: over('engine', 'turbine', engine, turbine, (driving, driven, apartS) =>
      converterSlip(driving, driven, converter, apartS),
    ),
    clutch: over(
      inputName,
      'output',
      input,
      output,
      (driving, driven, apartS, atMs) => {
        const ratio = ratioAt(atMs);
        return ratio === null ? null : clutchSlip(driving, driven, ratio, apartS, inputName);
      },
      "the ratio of the gear is not known: state it, or enter the drive train's ratios and let the vehicle tell its gear",
    ),
  };
}

type Judge = (driving: ShaftSpeedValue, driven: ShaftSpeedValue, apartS: number, atMs: number) => Slip | null;

function over(
  driving: string,
  driven: string,
  first: ToldSeries | undefined,
  second: ToldSeries | undefined,
  judge: Judge,
  unjudged = '',
): SlipOverRun {
  if (first === undefined || second === undefined) {
    const missing = [first === undefined ? driving : '', second === undefined ? driven : ''].filter(Boolean);
    const what = `the vehicle told no ${missing.join(' and no ')} speed`;
    const road = missing.includes('output') ? '; road speed in whole km/h is too coarse for slip' : '';
    return cannotSay(driving, driven, 0, `${what}${road}`);
  }
  const [stepOne, stepTwo] = [stepRpm(first), stepRpm(second)];
  let of = 0;
  let reason = '';
  const slips: (Slip & { answer: 'slip' })[] = [];
  first.atMs.forEach((atMs, i) => {
    const j = nearest(second.atMs, atMs);
    const apartMs = Math.abs(second.atMs[j]! - atMs);
    if (apartMs > MOST_APART_MS) return;
    of++;
    const slip = judge(
      speedAt(first, i, stepOne),
      speedAt(second, j, stepTwo),
      Math.max(LEAST_APART_S, apartMs / 1000),
      atMs,
    );
    if (slip === null) reason ||= unjudged;
    else if (slip.answer === 'slip') slips.push(slip);
    else reason = slip.reason;
  });
  if (of === 0) reason = `${driving} and ${driven} speed were never told within a second of each other`;
  if (slips.length < LEAST_MOMENTS) return cannotSay(driving, driven, of, reason || 'too few moments');
  return summary(driving, driven, slips, of);
}

function summary(
  driving: string,
  driven: string,
  slips: readonly (Slip & { answer: 'slip' })[],
  of: number,
): SlipOverRun {
  const rpm = slips.map(({ slipRpm }) => slipRpm).sort((a, b) => a - b);
  const share = (q: number) => rpm[Math.round(q * (rpm.length - 1))]!;
  const slipRpm = median(rpm);
  // Steps are shared by all moments and do not average out; the scatter of the moments does (1.25: a median's).
  const uncertaintyRpm = Math.hypot(
    median(slips.map((one) => one.uncertaintyRpm)),
    (2 * 1.2533 * robustSd(rpm)) / Math.sqrt(rpm.length),
  );
  const slipPercent = median(slips.map((one) => one.slipPercent));
  // The moment in the middle stands for what is usual at these speeds.
  const middle = slips.reduce((best, one) =>
    Math.abs(one.slipRpm - slipRpm) < Math.abs(best.slipRpm - slipRpm) ? one : best,
  );
  const { fromRpm, toRpm, text, provenance } = middle.normal;
  const inside = slipRpm - uncertaintyRpm >= fromRpm && slipRpm + uncertaintyRpm <= toRpm;
  const outside = slipRpm + uncertaintyRpm < fromRpm || slipRpm - uncertaintyRpm > toRpm;
  const against = inside ? 'within' : outside ? 'outside' : 'not-certain';
  const rangeRpm: [number, number] = [share(0.05), share(0.95)];
  const words = {
    within: 'within what is usual',
    outside: 'outside of what is usual',
    'not-certain': 'too close to the edge of what is usual to tell',
  }[against];
  const side = driven === 'output' ? "the output times the gear's ratio" : `the ${driven}`;
  const [low, high] = rangeRpm.map((value) => value.toFixed(0));
  return {
    driving,
    driven,
    answer: 'slip',
    slipRpm,
    uncertaintyRpm,
    slipPercent,
    rangeRpm,
    moments: slips.length,
    of,
    usual: { text, provenance },
    against,
    sentence: `The ${driving} turns ${Math.abs(slipRpm).toFixed(0)} ± ${Math.max(1, uncertaintyRpm).toFixed(0)} rpm (${Math.abs(slipPercent).toFixed(1)} %) ${slipRpm < 0 ? 'slower' : 'faster'} than ${side}, middle of ${slips.length} moments, nine in ten of them between ${low} and ${high} rpm: ${words} (${text}; ${provenance}).`,
  };
}

function cannotSay(driving: string, driven: string, of: number, reason: string): SlipOverRun {
  return {
    driving,
    driven,
    answer: 'cannot-say',
    slipRpm: null,
    uncertaintyRpm: null,
    slipPercent: null,
    rangeRpm: null,
    moments: 0,
    of,
    usual: null,
    against: null,
    sentence: `Cannot say: ${reason}.`,
  };
}

/** A value with its step, and how fast it changes by its neighbours. */
function speedAt({ atMs, value }: ToldSeries, i: number, resolutionRpm: number): ShaftSpeedValue {
  const [before, after] = [Math.max(0, i - 1), Math.min(value.length - 1, i + 1)];
  const seconds = (atMs[after]! - atMs[before]!) / 1000;
  const changeRpmPerS = seconds > 0 ? (value[after]! - value[before]!) / seconds : 0;
  return { rpm: value[i]!, resolutionRpm, changeRpmPerS, from: 'shaft-sensor' };
}

/** Greatest common divisor of the changes between values, to a thousandth: the step in which the speed is told. */
function stepRpm({ quantity, value }: ToldSeries): number {
  const usual = USUAL_STEP_RPM[quantity] ?? 1;
  const steps = [...new Set(value.map((rpm) => Math.round(1000 * rpm)))].sort((a, b) => a - b);
  if (steps.length < LEAST_VALUES) return usual;
  let common = 0;
  for (let k = 1; k < steps.length; k++) {
    let [a, b] = [steps[k]! - steps[k - 1]!, common];
    while (b > 0) [a, b] = [b, a % b];
    common = a;
  }
  return common / 1000;
}

/** The gear in force, null within `SHIFT_MS` of a change or where none was told lately. */
function steadyGear({ atMs, value }: ToldSeries, at: number): number | null {
  let gear: number | null = null;
  for (let k = lastBefore(atMs, at + SHIFT_MS); k >= 0; k--) {
    if (atMs[k]! < at - GEAR_HOLDS_MS) return gear;
    if (gear !== null && value[k] !== gear) return null;
    gear = value[k]!;
    if (atMs[k]! <= at - SHIFT_MS) return gear;
  }
  return gear;
}

function nearest(atMs: readonly number[], at: number): number {
  const k = Math.max(0, lastBefore(atMs, at));
  return k + 1 < atMs.length && atMs[k + 1]! - at < Math.abs(at - atMs[k]!) ? k + 1 : k;
}

/** Last index at or before an instant, -1 where there is none. */
function lastBefore(atMs: readonly number[], at: number): number {
  let low = 0;
  let high = atMs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (atMs[middle]! <= at) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}
