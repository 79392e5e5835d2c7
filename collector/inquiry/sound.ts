import type { AxisName } from '../../firmware-protocol/index.ts';
import type { Span } from '../capture/capture.ts';
import { createCascade } from '../dsp/filter.ts';
import { butterworthHighPass, butterworthLowPass } from '../dsp/filter-design.ts';
import { sincAt } from '../dsp/resample.ts';
import { cutPlaces, needAxis, type Place, type Source } from './source.ts';
import { strongestAxis } from './strongest-axis.ts';
import { wavBytes } from './wav-bytes.ts';

export interface SoundQuestion {
  /** Holds one place. */
  source: Source;
  span: Span;
  /** Default: the axis that shakes most. */
  axis?: AxisName;
  /** Only this band, for example around a finding. Default: from 20 Hz up. */
  bandHz?: [number, number];
  /** Samples read before the span for the sake of clocks, by time of arrival. */
  leadMs?: number;
  /** At the lowest usual rate that holds all that was recorded, for files to be passed on. */
  compact?: boolean;
}

export interface Sound {
  wav: Uint8Array;
  sampleRateHz: number;
  axis: AxisName;
  /** Acceleration at digital full scale; 0 where the node does not know its scale. */
  fullScaleMPerS2: number;
  /** Of what is heard (band applied), over the parts with samples. */
  rmsMPerS2: number;
  peakMPerS2: number;
  /** Highest frequency in the recording; above it the sound holds nothing. */
  recordedToHz: number;
  /** Silence in the sound: no samples. */
  gaps: Span[];
}

/** Body motion and gravity are no sound: they would only eat the headroom. */
const LOWEST_HZ = 20;
const ORDER = 4;
/** Filters settle in this much before the span. */
const RUN_IN_MS = 400;
/** The loudest sample lies 1 dB below full scale, so that no player's own resampling clips. */
const HEADROOM = 10 ** (-1 / 20);
const LONGEST_MS = 120_000;

/**
 * What a sensor felt, as sound. Sample k is the value at event time `span.fromMs` + k / rate, for every location, so
 * that sounds of several locations run in step; parts rendered one after the other join without a click.
 *
 * @throws RangeError when the span is empty or too long, or the band does not fit the recording
 */
export async function renderSound(question: SoundQuestion): Promise<Sound> {
  const { span, source, leadMs } = question;
  const lengthMs = span.toMs - span.fromMs;
  if (!(lengthMs > 0 && lengthMs <= LONGEST_MS)) {
    throw new RangeError(
      `a sound lasts up to ${LONGEST_MS / 1000} s, asked for ${(lengthMs / 1000).toFixed(1)} s`,
    );
  }
  const [place] = await cutPlaces(source, [withRunIn(span)], leadMs);
  return soundOf(place, question);
}

/** Filters settle in what comes before; interpolation looks ahead. */
export function withRunIn({ fromMs, toMs }: Span): Span {
  return { fromMs: fromMs - RUN_IN_MS, toMs: toMs + 20 };
}

/**
 * `place`: samples of `withRunIn(span)`.
 *
 * @throws RangeError when there are none, or the band does not fit the recording
 */
export function soundOf(place: Place | undefined, question: Omit<SoundQuestion, 'source' | 'leadMs'>): Sound {
  const { span, bandHz, compact = false } = question;
  const wide = withRunIn(span);
  const first = place?.stretches[0];
  if (place === undefined || first === undefined)
    throw new RangeError('no samples were recorded in this span');
  needAxis(place, question.axis);
  const axis = question.axis ?? strongestAxis(place.stretches);
  const sampleRateHz = soundRateHz(first.sampleRateHz, compact);
  const runIn = Math.round((RUN_IN_MS / 1000) * sampleRateHz);
  const count = Math.round(((span.toMs - span.fromMs) / 1000) * sampleRateHz);
  const values = new Float64Array(runIn + count);
  const present = new Uint8Array(runIn + count);
  for (const stretch of place.stretches) {
    const samples = stretch.samples[stretch.axes.indexOf(axis)];
    if (samples === undefined) continue;
    // Raw units without a scale are still a sound.
    const scale = (stretch.fullScaleMPerS2 || 32768) / 32768;
    layOnto(values, present, wide.fromMs, sampleRateHz, samples, stretch, scale);
  }
  filterBand(values, present, sampleRateHz, bandHz, first.sampleRateHz);
  const out = values.subarray(runIn);
  const there = present.subarray(runIn);
  let [peak, power, n] = [0, 0, 0];
  for (let i = 0; i < count; i++) {
    if (there[i] === 0) {
      out[i] = 0;
      continue;
    }
    peak = Math.max(peak, Math.abs(out[i]!));
    power += out[i]! ** 2;
    n++;
  }
  const gain = peak > 0 ? HEADROOM / peak : 0;
  const pcm = Int16Array.from(out, (value) => Math.round(value * gain * 32767));
  const scaleKnown = first.fullScaleMPerS2 > 0;
  return {
    wav: wavBytes([pcm], sampleRateHz),
    sampleRateHz,
    axis,
    fullScaleMPerS2: scaleKnown && gain > 0 ? 32768 / 32767 / gain : 0,
    rmsMPerS2: n > 0 ? Math.sqrt(power / n) : 0,
    peakMPerS2: peak,
    recordedToHz: first.sampleRateHz / 2,
    gaps: place.gaps.flatMap(({ fromMs, toMs }) => {
      const cut = { fromMs: Math.max(fromMs, span.fromMs), toMs: Math.min(toMs, span.toMs) };
      return cut.toMs - cut.fromMs > 1 ? [cut] : [];
    }),
  };
}

/** Rates that every player knows; never below the recording's own, whose highest frequencies would fold down. */
function soundRateHz(recordedHz: number, compact: boolean): number {
  const rates = compact ? [8_000, 16_000, 24_000] : [24_000];
  return rates.find((rate) => recordedHz <= Math.min(rate, 20_000)) ?? 48_000;
}

/** Values between the samples, on the grid of the sound. */
function layOnto(
  values: Float64Array,
  present: Uint8Array,
  fromMs: number,
  rateHz: number,
  samples: ArrayLike<number>,
  { startMs, sampleRateHz }: { startMs: number; sampleRateHz: number },
  scale: number,
): void {
  // The mean first: gravity at a stretch's edge would ring through the interpolation.
  let mean = 0;
  for (let i = 0; i < samples.length; i++) mean += samples[i]! / samples.length;
  const centred = Float64Array.from(samples, (value) => (value - mean) * scale);
  const offset = ((fromMs - startMs) / 1000) * sampleRateHz;
  const step = sampleRateHz / rateHz;
  const first = Math.max(0, Math.ceil(-offset / step));
  const last = Math.min(values.length - 1, Math.floor((samples.length - 1 - offset) / step));
  for (let k = first; k <= last; k++) {
    values[k] = sincAt(centred, offset + k * step, 1);
    present[k] = 1;
  }
}

function filterBand(
  values: Float64Array,
  present: Uint8Array,
  rateHz: number,
  bandHz: [number, number] | undefined,
  recordedHz: number,
): void {
  const [low, high] = bandHz ?? [LOWEST_HZ, recordedHz / 2];
  if (!(low > 0 && high > low))
    throw new RangeError(`band ${low} to ${high} Hz: give the lower frequency first`);
  if (low >= recordedHz / 2) {
    throw new RangeError(
      `band ${low} to ${high} Hz: the recording reaches only to ${Math.floor(recordedHz / 2)} Hz`,
    );
  }
  const filters = [createCascade(butterworthHighPass(ORDER, low, rateHz))];
  if (high < 0.45 * rateHz) filters.push(createCascade(butterworthLowPass(ORDER, high, rateHz)));
  for (const filter of filters) filter.run(values, 0, values.length);
  // What rings on into a gap is no recording.
  for (let i = 0; i < values.length; i++) if (present[i] === 0) values[i] = 0;
}
