/** Findings as sentences. */
import type { FindingRecord } from '../drive-train.ts';
import { significant } from './figures.ts';

type Finding = FindingRecord['findings'][number];

const PARTS: Record<string, string> = {
  outer: 'Outer race',
  inner: 'Inner race',
  ball: 'Rolling element',
  cage: 'Cage',
};

const KINDS: Record<string, string> = {
  'gear-mesh': 'Gear mesh line',
  'unbalance-order': 'Line at once per turn, as unbalance makes it',
  'misalignment-order': 'Line at twice per turn, as misalignment makes it',
  'looseness-orders': 'Many multiples of the turning speed, as looseness makes them',
  unexplained: 'Strikes that nothing stated explains',
};

/** A chance as people say it. */
export function oneIn(probability: number): string {
  if (probability >= 0.5) return 'more likely than not';
  const n = 1 / probability;
  return `1 in ${n < 20 ? Math.round(n) : significant(n, 2)}`;
}

const hertz = (hz: number) => `${significant(hz, 4)} Hz`;

/** "Outer race line of bearing 6205 at 107.4 Hz with 4 harmonics; chance of this from noise 1 in 600." */
export function findingSentence(finding: Finding, bearing: string | null): string {
  const { kind, frequencyHz, expectedHz, harmonics, falseAlarmProbability } = finding;
  const part = PARTS[kind];
  const name =
    part === undefined
      ? (KINDS[kind] ?? kind.replaceAll('-', ' '))
      : `${part} line of ${bearing === null ? 'the bearing' : `bearing ${bearing}`}`;
  const expected =
    part !== undefined && expectedHz !== null ? `, expected at ${hertz(expectedHz)} without slip` : '';
  const lines = harmonics > 1 ? ` with ${harmonics} harmonics` : '';
  return `${name} at ${hertz(frequencyHz)}${lines}${expected}; chance of this from noise ${oneIn(falseAlarmProbability)}.`;
}

/** "inner race at 161.9 Hz, 2 harmonics, chance from noise 1 in 30" */
export function rivalText(rival: Finding['rivals'][number]): string {
  const name = PARTS[rival.kind]?.toLowerCase() ?? rival.kind.replaceAll('-', ' ');
  const lines = rival.harmonics > 0 ? `, ${rival.harmonics} harmonics` : '';
  const chance =
    rival.falseAlarmProbability < 1 ? `, chance from noise ${oneIn(rival.falseAlarmProbability)}` : '';
  return `${name} at ${hertz(rival.frequencyHz)}${lines}${chance}`;
}

/** A verdict in a few words, for lists and headings. */
export function verdictText(verdict: string, bearing: string | null): string {
  const of = bearing === null ? '' : ` of bearing ${bearing}`;
  const part = PARTS[verdict];
  if (part !== undefined) return `${part}${of} stands out`;
  if (verdict === 'none') return bearing === null ? 'Nothing stands out' : `Nothing stands out${of}`;
  if (verdict === 'not-clear') return 'Not clear what makes the lines';
  if (verdict === 'not-covered') return 'Not covered by this record';
  return verdict.replaceAll('-', ' ');
}

/** Worth a word on the list of levels; what nothing stands out of, or nothing can be said of, is not. */
export const isNoteworthy = (verdict: string): boolean => isPart(verdict) || verdict === 'not-clear';

export const isPart = (verdict: string): boolean => verdict in PARTS;

const SOURCES: Record<string, string> = {
  typed: 'as typed in',
  nominal: 'the machine’s own',
  vehicle: 'as the vehicle told',
};

export function conditionsText(look: FindingRecord): string {
  const { speedRpm, speedSource, shaft, durationS, sampleRateHz, axis } = look;
  const speed =
    speedRpm === null
      ? 'speed not known'
      : `${shaft ?? 'shaft'} at ${significant(speedRpm, 4)} rpm, ${SOURCES[speedSource] ?? speedSource}`;
  const where = axis === 'single' ? '' : `, axis ${axis.toUpperCase()}`;
  return `${significant(durationS, 3)} s at ${significant(sampleRateHz, 5)} samples/s${where}; ${speed}.`;
}
