import { evidenceOfGreatest, lineEvidence, medianOverMean, runningMedian } from '../analysis/background.ts';
import { complexEnvelope, magnitude, type RecordSpectrum, recordSpectrum } from '../dsp/hilbert.ts';
import { welch } from '../dsp/spectrum.ts';
import { type LocationRecord, strongestAxis } from './question.ts';

/** Size of a defect's line at one location in one carrier band. */
export interface LineSize {
  carrierHz: [number, number];
  /** Root of the summed power of the line and its harmonics in the envelope spectrum, m/s² RMS: absolute. */
  amplitudeRmsMPerS2: number;
  /** Standard deviation of that size from the envelope's own background, dB. */
  randomDb: number;
  /** -ln of the chance that noise makes these lines. */
  evidence: number;
}

export interface DefectLine {
  /** Where the line stands, the same for all locations. */
  frequencyHz: number;
  harmonics: number;
  /** One entry per location, in the order given; each holds the same carrier bands. */
  sizes: LineSize[][];
}

/** Rolling elements slip: the line may lie this far from its kinematic place. */
const SLIP = 0.02;
const HARMONICS = 3;
/** A carrier must be this many times wider than the defect frequency, to hold its first harmonics. */
const CARRIER_WIDTHS = 4;
const MOST_CARRIERS = 6;
/** Strikes of a defect ring the structure from about here up (common practice, no source); below, shafts and meshes rule. */
const RINGING_HZ = 2000;
/** The envelope is averaged over pieces of about this many periods: fine lines, yet not torn apart by slip. */
const PERIODS_PER_PIECE = 200;
/** Lines less sure than this (1 in 1000) do not count. */
export const LINE_PRESENT = Math.log(1000);

/** Size of a defect's line at each location. Null where no carrier band is wide enough. */
export function defectLine(
  locations: readonly LocationRecord[],
  defectHz: number,
  highestHz: number,
): DefectLine | null {
  const lowest = Math.max(5 * defectHz, Math.min(RINGING_HZ, 0.4 * highestHz));
  const count = Math.min(MOST_CARRIERS, Math.floor((highestHz - lowest) / (CARRIER_WIDTHS * defectHz)));
  if (count < 1) return null;
  const width = (highestHz - lowest) / count;
  const carriers = Array.from({ length: count }, (_, c): [number, number] => [
    lowest + c * width,
    lowest + (c + 1) * width,
  ]);
  const spectra = locations.map((location) => {
    const record = recordSpectrum(strongestAxis(location), location.sampleRateHz);
    return carriers.map((carrier) => envelopeLines(record, carrier, defectHz));
  });
  const frequencyHz = commonPlace(spectra.flat(), defectHz);
  const sizes = spectra.map((perCarrier) =>
    perCarrier.map((lines, c) => sizeOf(lines, frequencyHz, carriers[c]!)),
  );
  return { frequencyHz, harmonics: HARMONICS, sizes };
}

interface EnvelopeLines {
  stepHz: number;
  averages: number;
  /** Mean square of the envelope per line, (m/s²)². */
  power: Float64Array;
  background: Float64Array;
}

function envelopeLines(record: RecordSpectrum, carrier: [number, number], defectHz: number): EnvelopeLines {
  const envelope = complexEnvelope(record, carrier);
  const values = magnitude(envelope);
  const piece = Math.min(values.length, Math.ceil((PERIODS_PER_PIECE / defectHz) * envelope.sampleRateHz));
  const { density, stepHz, segments } = welch(values, envelope.sampleRateHz, { segmentSamples: piece });
  const top = Math.min(density.length, Math.ceil(((HARMONICS + 1) * defectHz) / stepHz));
  const power = density.slice(0, top);
  for (let k = 0; k < top; k++) power[k]! *= stepHz;
  const averages = Math.max(1, Math.round(segments / 1.055));
  const background = runningMedian(power, Math.max(12, Math.round((0.25 * defectHz) / stepHz)));
  for (let k = 0; k < top; k++) background[k] = Math.max(background[k]! / medianOverMean(averages), 1e-30);
  return { stepHz, averages, power, background };
}

/** The place within slip at which all spectra together show most: one place, so that sizes are of the same line. */
function commonPlace(spectra: readonly EnvelopeLines[], defectHz: number): number {
  const finest = Math.min(...spectra.map(({ stepHz }) => stepHz));
  const steps = Math.ceil((SLIP * defectHz * HARMONICS) / finest);
  let best = { hz: defectHz, evidence: -1 };
  for (let k = -steps; k <= steps; k++) {
    const hz = defectHz * (1 + (SLIP * k) / steps);
    const evidence = spectra.reduce((sum, lines) => sum + evidenceAt(lines, hz).evidence, 0);
    // Between places alike, the one nearer to where it was expected.
    if (
      evidence > best.evidence + 1e-9 ||
      (evidence === best.evidence && Math.abs(hz - defectHz) < Math.abs(best.hz - defectHz))
    ) {
      best = { hz, evidence };
    }
  }
  return best.hz;
}

/** Strips of one line's width and a little slip around the line and its harmonics. */
function evidenceAt({ stepHz, averages, power, background }: EnvelopeLines, hz: number) {
  let [evidence, line, noise, lines] = [0, 0, 0, 0];
  for (let harmonic = 1; harmonic <= HARMONICS; harmonic++) {
    const centre = Math.round((harmonic * hz) / stepHz);
    const reach = 1 + Math.floor((0.0015 * harmonic * hz) / stepHz);
    let best = 0;
    for (let k = Math.max(1, centre - reach); k <= centre + reach && k < power.length; k++) {
      best = Math.max(best, lineEvidence(power[k]! / background[k]!, averages));
      line += power[k]! - background[k]!;
      noise += background[k]!;
      lines++;
    }
    evidence = Math.max(evidence, evidenceOfGreatest(best, HARMONICS * (2 * reach + 1)));
  }
  return { evidence, line, noise, lines };
}

function sizeOf(spectrum: EnvelopeLines, hz: number, carrierHz: [number, number]): LineSize {
  const { evidence, line, noise, lines } = evidenceAt(spectrum, hz);
  const perLine = noise / Math.max(1, lines);
  // Power S of a line in noise N per line, K averages: variance (2 S N + lines N²) / K. Where nothing shows, the size
  // is the most that could hide there.
  const sd = Math.sqrt((2 * Math.max(0, line) * perLine + lines * perLine ** 2) / spectrum.averages);
  const shown = Math.max(line, 2 * sd);
  return {
    carrierHz,
    amplitudeRmsMPerS2: Math.sqrt(shown),
    randomDb: (10 * Math.LOG10E * sd) / shown,
    evidence,
  };
}
