import type { AxisName } from '../../firmware-protocol/index.ts';
import { analysisPlot, type BearingVerdict, type Diagnosis, diagnose } from '../analysis/index.ts';
import type { CaptureStretch } from '../capture/capture.ts';
import { rattlingShare } from '../measure/rattle.ts';
import type { SpanAnswer, SpanQuestion } from './span-question.ts';

interface AxisDiagnosis extends Diagnosis {
  axis: AxisName;
  samples: Float64Array;
}

/** A loose clamp makes lines of its own, of the speed at which it bangs. */
const MOST_RATTLING = 0.1;
const NAMED: ReadonlySet<BearingVerdict> = new Set<BearingVerdict>(['outer', 'inner', 'ball', 'cage']);

/** What the axes of one contiguous stretch say together. */
export function analyseStretch(
  stretch: CaptureStretch,
  question: Omit<SpanQuestion, 'journalDir'>,
): SpanAnswer {
  const { axes, startMs, sampleRateHz, fullScaleMPerS2 } = stretch;
  const { shaftHz, bearing, gears, otherLinesHz, title } = question;
  const speed = question.speed && {
    name: 'shaft',
    timeS: question.speed.timeMs.map((ms) => (ms - startMs) / 1000),
    hz: question.speed.hz,
  };
  const each = axes.map((axis, index): AxisDiagnosis => {
    const samples = inMPerS2(stretch.samples[index]!, fullScaleMPerS2);
    const diagnosis = diagnose({
      samples,
      sampleRateHz,
      gears,
      otherLinesHz,
      ...(shaftHz !== undefined && { shaftHz }),
      ...(speed !== undefined && { speed }),
      ...(bearing !== undefined && { bearing }),
      // Without a scale nothing can be said of levels.
      ...(fullScaleMPerS2 === 0 && { noteAboveMmPerS: Number.POSITIVE_INFINITY }),
    });
    return { axis, samples, ...diagnosis };
  });
  const telling = [...each].sort((a, b) => weight(b) - weight(a) || leastChance(a) - leastChance(b))[0]!;
  const findings = telling.findings.map((finding) => ({
    ...finding,
    // A line was sought on every axis, and the most telling one is shown.
    falseAlarmProbability: Math.min(1, axes.length * finding.falseAlarmProbability),
  }));
  const plot = { title: axes.length > 1 ? `${title}, axis ${telling.axis}` : title, sampleRateHz, findings };
  return {
    startMs,
    durationS: telling.samples.length / sampleRateHz,
    sampleRateHz,
    axis: telling.axis,
    findings,
    ...together(each, telling, stretch),
    pictureSvg: analysisPlot({
      ...plot,
      samples: telling.samples,
      ...(shaftHz !== undefined && { shaftHz }),
      ...(bearing !== undefined && { bearing }),
    }),
  };
}

function together(
  each: AxisDiagnosis[],
  telling: AxisDiagnosis,
  { clipped, sampleRateHz, fullScaleMPerS2 }: CaptureStretch,
): Pick<SpanAnswer, 'verdict' | 'reason'> {
  const { verdict, reason } = telling;
  if (!NAMED.has(verdict)) return { verdict, reason };
  if (clipped.length > 0) {
    const why = 'but the sensor was driven out of its range meanwhile, which makes lines of its own';
    return { verdict: 'not-clear', reason: `${reason}, ${why}` };
  }
  if (
    fullScaleMPerS2 > 0 &&
    each.some(({ samples }) => rattlingShare(samples, sampleRateHz) > MOST_RATTLING)
  ) {
    return {
      verdict: 'not-clear',
      reason: `${reason}, but the sensor rattled in its clamp: tighten it first`,
    };
  }
  const other = each.find((axis) => NAMED.has(axis.verdict) && axis.verdict !== verdict);
  if (other === undefined) return { verdict, reason };
  return {
    verdict: 'not-clear',
    reason: `axis ${telling.axis} shows lines of ${verdict}, axis ${other.axis} of ${other.verdict}`,
  };
}

function weight({ verdict, findings }: AxisDiagnosis): number {
  if (NAMED.has(verdict)) return 3;
  if (verdict === 'not-clear') return 2;
  return findings.length > 0 ? 1 : 0;
}

function leastChance({ findings }: AxisDiagnosis): number {
  return findings.reduce((least, finding) => Math.min(least, finding.falseAlarmProbability), 1);
}

/** Scaled, with the mean (gravity) removed. */
function inMPerS2(raw: ArrayLike<number>, fullScaleMPerS2: number): Float64Array {
  const scale = (fullScaleMPerS2 === 0 ? 1 : fullScaleMPerS2) / 32768;
  let sum = 0;
  for (let i = 0; i < raw.length; i++) sum += raw[i]!;
  const mean = sum / raw.length;
  return Float64Array.from(raw, (value) => scale * (value - mean));
}
