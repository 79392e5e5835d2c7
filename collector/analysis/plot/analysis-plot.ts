import type { BearingMultipliers } from '../../drivetrain/bearing.ts';
import { envelopeSpectrum } from '../../dsp/envelope.ts';
import { recordSpectrum } from '../../dsp/hilbert.ts';
import { kurtogram } from '../../dsp/kurtogram.ts';
import { amplitudeSpectrum } from '../../dsp/spectrum.ts';
import { bearingFamilies } from '../bearing-families.ts';
import type { Finding } from '../finding.ts';
import { drawPanel, escapeXml, type Mark } from './panel.ts';

export interface PlotQuestion {
  title: string;
  /** Acceleration, m/s². */
  samples: Float64Array;
  sampleRateHz: number;
  shaftHz?: number;
  bearing?: BearingMultipliers;
  findings: Finding[];
  /** Envelope band; default that of the first finding that has one, else the most impulsive by spectral kurtosis. */
  bandHz?: [number, number];
}

const WIDTH = 1000;
const HEIGHT = 760;
const HARMONICS = 5;
const PART_NAMES = { outer: 'outer race', inner: 'inner race', ball: 'ball', cage: 'cage' };

/**
 * Picture of a record: its amplitude spectrum above, its envelope spectrum below, with the lines expected (dashed)
 * and found (full). One self-contained SVG text; no script, no font or picture from elsewhere.
 */
export function analysisPlot(question: PlotQuestion): string {
  const { samples, sampleRateHz, findings } = question;
  const spectrum = amplitudeSpectrum(samples, sampleRateHz);
  const bandHz =
    question.bandHz ?? findings.find((finding) => finding.bandHz !== null)?.bandHz ?? impulsiveBand(question);
  const envelope = envelopeSpectrum(samples, sampleRateHz, bandHz);
  const envelopeMarks = [...expectedMarks(question), ...foundMarks(findings, true)];
  const highestMark = envelopeMarks.reduce((best, mark) => Math.max(best, mark.frequencyHz), 0);
  const box = { x: 90, width: WIDTH - 120, height: 230 };
  const band = `${bandHz[0].toFixed(0)} to ${bandHz[1].toFixed(0)} Hz`;
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" font-family="sans-serif" font-size="12" fill="#1d2733">`,
    `<title>${escapeXml(question.title)}</title>`,
    `<desc>${escapeXml(describe(findings, band))}</desc>`,
    `<rect width="${WIDTH}" height="${HEIGHT}" fill="#fff"/>`,
    drawPanel(
      {
        title: `${question.title}: spectrum`,
        stepHz: spectrum.stepHz,
        values: spectrum.amplitudeRms,
        valueLabel: 'acceleration, m/s² RMS',
        logarithmic: true,
        marks: foundMarks(findings, false),
      },
      { ...box, y: 90 },
    ),
    drawPanel(
      {
        title: `Envelope spectrum, band ${band}`,
        stepHz: envelope.stepHz,
        // The slow swelling next to 0 Hz would flatten everything else.
        values: envelope.amplitudeRms.map((value, k) => (k * envelope.stepHz < 1.5 ? 0 : value)),
        valueLabel: 'envelope, m/s² RMS',
        topHz: highestMark > 0 ? 1.15 * highestMark : 500,
        logarithmic: false,
        marks: envelopeMarks,
      },
      { ...box, y: 450 },
    ),
    '</svg>',
    '',
  ].join('\n');
}

function impulsiveBand({ samples, sampleRateHz }: PlotQuestion): [number, number] {
  const [best] = kurtogram(recordSpectrum(samples, sampleRateHz), { narrowestHz: sampleRateHz / 16 });
  return best!.bandHz;
}

function expectedMarks({ shaftHz, bearing }: PlotQuestion): Mark[] {
  if (shaftHz === undefined) return [];
  const shaft: Mark[] = [1, 2].map((order) => ({
    frequencyHz: order * shaftHz,
    label: order === 1 ? 'shaft' : `${order} x shaft`,
    found: false,
  }));
  if (bearing === undefined) return shaft;
  const parts = bearingFamilies(bearing, shaftHz).map((family): Mark => {
    const perSpin = family.part === 'ball' && family.expectedHz < 1.5 * bearing.ballSpin * shaftHz;
    const label = perSpin ? 'ball spin' : PART_NAMES[family.part];
    return { frequencyHz: family.expectedHz, label, found: false };
  });
  return [...shaft, ...parts];
}

/** Findings of the envelope with their harmonics; others on the record's own spectrum. */
function foundMarks(findings: Finding[], inEnvelope: boolean): Mark[] {
  return findings
    .filter((finding) => (finding.bandHz !== null) === inEnvelope)
    .flatMap((finding) =>
      Array.from({ length: Math.min(HARMONICS, finding.harmonics) }, (_, k) => ({
        frequencyHz: (k + 1) * finding.frequencyHz,
        label: k === 0 ? `${finding.kind} ${finding.frequencyHz.toFixed(1)} Hz` : `${k + 1} x`,
        found: true,
      })),
    );
}

function describe(findings: Finding[], band: string): string {
  const found = findings
    .map((finding) => `${finding.kind} at ${finding.frequencyHz.toFixed(1)} Hz`)
    .join(', ');
  return `Amplitude spectrum and envelope spectrum (${band}). ${found === '' ? 'No finding.' : `Found: ${found}.`}`;
}
