import { type FollowedTone, followsSpeed } from '../analysis/follow/follows-speed.ts';
import type { Span } from '../capture/capture.ts';
import { endMs } from '../capture/stretches.ts';
import type { DriveTrain } from '../drivetrain/index.ts';
import type { SpeedChannel } from '../dsp/resample.ts';
import { type ToldSpeed, toneSentence } from './order-lock-words.ts';
import { cutPlaces, type Place, type Source } from './source.ts';
import { SHORTEST_S, type SpeedSeries, speedWindows } from './speed-windows.ts';

export interface OrderLockQuestion {
  /** Holds one place. */
  source: Source;
  span: Span;
  /** Speeds that the vehicle told, each with the shafts that turn with it in a fixed ratio. */
  speeds: (ToldSpeed & SpeedSeries)[];
  /** Load over time, any unit. */
  load?: { atMs: readonly number[]; value: readonly number[] };
  /** To name what is expected at an order. */
  train?: DriveTrain;
}

export interface OrderLockAnswer {
  /** Part of the run that was looked into; null when nothing could be. */
  used: Span | null;
  axis: string;
  tones: (FollowedTone & { sentence: string })[];
  /** The answer in a sentence: what was found, or why nothing can be said. */
  sentence: string;
  /** What else a reader should know. */
  notes: string[];
}

const HIGHEST_HZ = 800;
/** Windows tried before the samples are called missing. */
const MOST_WINDOWS = 3;

/**
 * What each tone at a location follows, in the part of a run in which the speeds varied most.
 *
 * @throws CaptureError, WavError, BrokerError as the sources say
 */
export async function orderLock(question: OrderLockQuestion): Promise<OrderLockAnswer> {
  const { speeds, span } = question;
  const nothing = (sentence: string): OrderLockAnswer => ({
    used: null,
    axis: '',
    tones: [],
    sentence,
    notes: [],
  });
  if (speeds.length === 0) return nothing('Cannot say: the vehicle told no speed in this part of the run.');
  const { used, standing, windows } = speedWindows(speeds, span);
  const stood = standing.map((i) => `${speeds[i]!.name} stood still, so no tone follows it.`);
  if (used.length === 0) return nothing('Cannot say: everything whose speed is known stood still.');
  if (windows.length === 0) {
    return nothing(
      `Cannot say: there are no ${SHORTEST_S} s on end in which the speeds are known and everything turns.`,
    );
  }
  const piece = await longestPiece(question, windows.slice(0, MOST_WINDOWS));
  if (piece === null)
    return nothing(`Cannot say: no ${SHORTEST_S} s of samples on end were recorded while the speeds varied.`);

  const { samples, sampleRateHz, axis, fromMs, toMs } = piece;
  const told = used.map((i) => speeds[i]!);
  const timeS = (atMs: number) => (atMs - fromMs) / 1000;
  const channels = told.map((speed): SpeedChannel => {
    const { atMs, hz } = around(speed, fromMs, toMs);
    return { name: speed.name, timeS: atMs.map(timeS), hz };
  });
  const { load } = question;
  const tones = followsSpeed({
    samples,
    sampleRateHz,
    speeds: channels,
    highestHz: Math.min(HIGHEST_HZ, sampleRateHz / 2.56),
    ...(load === undefined || load.atMs.length === 0
      ? {}
      : { load: { timeS: load.atMs.map(timeS), value: [...load.value] } }),
  }).sort((a, b) => b.amplitudeRms - a.amplitudeRms);
  return {
    used: { fromMs, toMs },
    axis,
    tones: tones.map((tone) => ({ ...tone, sentence: toneSentence(tone, told, question.train) })),
    sentence: summary(tones),
    notes: [...stood, ...(speeds.length > used.length + standing.length ? [SELDOM_TOLD] : [])],
  };
}

/** The rows within a span and one more to each side. */
function around({ atMs, hz }: SpeedSeries, fromMs: number, toMs: number): { atMs: number[]; hz: number[] } {
  const inside = atMs.findIndex((at) => at >= fromMs);
  const after = atMs.findIndex((at) => at > toMs);
  const [first, end] = [Math.max(0, inside - 1), after < 0 ? atMs.length : after + 1];
  return { atMs: atMs.slice(first, end), hz: hz.slice(first, end) };
}

const SELDOM_TOLD = 'A speed that was told in less than half of the time was left out.';

function summary(tones: readonly FollowedTone[]): string {
  if (tones.length === 0) return 'No tone stands out from the noise.';
  const sure = tones.filter(({ verdict }) => verdict !== 'cannot-say').length;
  const found = tones.length === 1 ? 'One tone stands out' : `${tones.length} tones stand out`;
  if (sure === tones.length) return `${found}.`;
  return sure === 0
    ? `${found}; what it follows cannot be said.`
    : `${found}; of ${sure} it can be said what they follow.`;
}

/** The axis that moves most, over the longest unbroken stretch of the first window that has one long enough. */
async function longestPiece({ source }: OrderLockQuestion, windows: readonly Span[]) {
  for (const window of windows) {
    const [place] = await cutPlaces(source, [window]);
    const stretch = longest(place);
    if (stretch === null) continue;
    const scale = (stretch.fullScaleMPerS2 || 32768) / 32768;
    const axes = stretch.samples.map((samples) => centred(samples, scale));
    const rms = axes.map((samples) => samples.reduce((sum, value) => sum + value * value, 0));
    const best = rms.indexOf(Math.max(...rms));
    return {
      samples: axes[best]!,
      axis: stretch.axes[best]!,
      sampleRateHz: stretch.sampleRateHz,
      fromMs: stretch.startMs,
      toMs: endMs(stretch),
    };
  }
  return null;
}

function longest(place: Place | undefined) {
  const lengthMs = (one: Place['stretches'][number]) => endMs(one) - one.startMs;
  const best = place?.stretches.toSorted((a, b) => lengthMs(b) - lengthMs(a))[0];
  // A window is cut at whole samples: a hair less than its length.
  return best === undefined || lengthMs(best) < 1000 * SHORTEST_S - 5 ? null : best;
}

function centred(samples: ArrayLike<number>, scale: number): Float64Array {
  const result = Float64Array.from(samples, (value) => value * scale);
  const mean = result.reduce((sum, value) => sum + value, 0) / result.length;
  for (let k = 0; k < result.length; k++) result[k]! -= mean;
  return result;
}
