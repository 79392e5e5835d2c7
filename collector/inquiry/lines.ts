import type { AxisName } from '../../firmware-protocol/index.ts';
import type { Finding } from '../analysis/finding.ts';
import { analysisPlot } from '../analysis/index.ts';
import type { CaptureStretch, Span } from '../capture/capture.ts';
import type { BearingMultipliers } from '../drivetrain/index.ts';
import { cutPlaces, type Source } from './source.ts';
import { strongestAxis } from './strongest-axis.ts';

export interface LinesQuestion {
  /** Holds one place. */
  source: Source;
  span: Span;
  title: string;
  /** Default: the axis that shakes most. */
  axis?: AxisName;
  /** With it the lines expected are drawn in. */
  shaftHz?: number;
  bearing?: BearingMultipliers;
  /** Lines found in these samples, to be marked. */
  findings?: Finding[];
}

export interface LinesPicture {
  /** Spectrum above, envelope spectrum below: a self-contained SVG. */
  svg: string;
  axis: AxisName;
  seconds: number;
}

/** A shorter stretch than this says nothing of lines. */
const SHORTEST_S = 1;

/**
 * Spectrum and envelope spectrum of the longest stretch without a hole in the span.
 *
 * @throws RangeError when there is none of a second or more
 */
export async function linesPicture(question: LinesQuestion): Promise<LinesPicture> {
  const { source, span, title, shaftHz, bearing, findings = [] } = question;
  const [place] = await cutPlaces(source, [span]);
  const longest = place?.stretches.toSorted((a, b) => secondsOf(b) - secondsOf(a))[0];
  if (place === undefined || longest === undefined || secondsOf(longest) < SHORTEST_S)
    throw new RangeError('no second of samples was recorded in this span');
  const axis =
    question.axis !== undefined && longest.axes.includes(question.axis)
      ? question.axis
      : strongestAxis(place.stretches);
  const raw = longest.samples[longest.axes.indexOf(axis)]!;
  const scale = (longest.fullScaleMPerS2 || 32768) / 32768;
  let mean = 0;
  for (let i = 0; i < raw.length; i++) mean += raw[i]! / raw.length;
  const svg = analysisPlot({
    title,
    samples: Float64Array.from(raw, (value) => (value - mean) * scale),
    sampleRateHz: longest.sampleRateHz,
    findings,
    ...(shaftHz === undefined ? {} : { shaftHz }),
    ...(bearing === undefined ? {} : { bearing }),
  });
  return { svg, axis, seconds: secondsOf(longest) };
}

const secondsOf = ({ samples, sampleRateHz }: CaptureStretch) => samples[0]!.length / sampleRateHz;
