import type { BearingFamily } from './bearing-families.ts';
import { bestComb, type Comb, combAt, LINE_PRESENT, lineAt } from './comb.ts';
import type { EnvelopeLines } from './envelope-bank.ts';

const HARMONICS_EXPLAINED = 8;
const SIDEBANDS_DEEP = 6;
const SIDEBANDS_MILD = 2;

/** How close a line must lie to the place another part would put it, to be explained by that part. */
function near(frequencyHz: number, placeHz: number, stepHz: number, spacingHz: number): boolean {
  // A coarse spectrum must not let a close comb explain everything.
  const tolerance = Math.min(Math.max(2 * stepHz, 0.0025 * frequencyHz), 0.1 * spacingHz);
  return Math.abs(frequencyHz - placeHz) <= tolerance;
}

/**
 * Which lines of a spectrum a defect of one part explains: its harmonics, with sidebands at the spacings that
 * modulate them, and the modulation itself, down at 0 Hz. So lines at the cage's speed beside another part's
 * family accuse no cage. With `onlyDeep` mild modulations explain nothing.
 */
export function explainedBy(
  family: BearingFamily,
  fundamentalHz: number,
  spectrum: EnvelopeLines,
  shaftHz: number,
  cageHz: number,
  onlyDeep = false,
): (frequencyHz: number) => boolean {
  const { stepHz } = spectrum;
  if (family.part === 'cage') return (frequencyHz) => explainedByCage(frequencyHz, fundamentalHz, spectrum);
  const spacings = modulations(family, shaftHz, cageHz).filter(({ depth }) => depth === 'deep' || !onlyDeep);
  return (frequencyHz) => {
    const h = Math.round(frequencyHz / fundamentalHz);
    if (h >= 1 && h <= HARMONICS_EXPLAINED && near(frequencyHz, h * fundamentalHz, stepHz, fundamentalHz)) {
      return true;
    }
    for (const { spacing, depth } of spacings) {
      for (let h = 0; h <= HARMONICS_EXPLAINED; h++) {
        const k = Math.round((frequencyHz - h * fundamentalHz) / spacing);
        if (Math.abs(k) > (depth === 'deep' ? SIDEBANDS_DEEP : SIDEBANDS_MILD)) continue;
        if (near(frequencyHz, h * fundamentalHz + k * spacing, stepHz, spacing)) return true;
      }
    }
    const turnsOfCage = Math.round(frequencyHz / cageHz);
    return turnsOfCage <= SIDEBANDS_DEEP && near(frequencyHz, turnsOfCage * cageHz, stepHz, cageHz);
  };
}

/**
 * What modulates a part's strikes. Deeply: its passage through the loaded zone. Mildly, so with sidebands that stay
 * below the line itself: the shaft's turn (unbalance), and the balls, which are not quite alike. Each ball meets a
 * race's defect once per turn of the cage against that race: at the cage's speed for a race that stands, at shaft
 * less cage for one that turns.
 */
function modulations(
  family: BearingFamily,
  shaftHz: number,
  cageHz: number,
): { spacing: number; depth: 'deep' | 'mild' }[] {
  const raceTurns = family.sidebandHz === shaftHz;
  return [
    { spacing: shaftHz, depth: raceTurns ? 'deep' : 'mild' },
    { spacing: raceTurns ? shaftHz - cageHz : cageHz, depth: family.part === 'ball' ? 'deep' : 'mild' },
  ];
}

/**
 * n times the cage's speed is the outer race line, exactly, so a cage comb could "explain" any outer race fault.
 * Beyond the third it explains only lines that are one of many.
 */
function explainedByCage(frequencyHz: number, cageHz: number, spectrum: EnvelopeLines): boolean {
  const order = Math.round(frequencyHz / cageHz);
  if (order < 1 || !near(frequencyHz, order * cageHz, spectrum.stepHz, cageHz)) return false;
  return order <= 3 || oneOfACageComb(spectrum, frequencyHz, cageHz);
}

/**
 * A strike once per turn of the cage makes lines at every multiple of its speed, some of which fall on other
 * parts' lines. The sidebands of a defect carried past the load die away by the third; a cage's comb does not.
 */
export function oneOfACageComb(spectrum: EnvelopeLines, frequencyHz: number, cageHz: number): boolean {
  if (cageHz < 4 * spectrum.stepHz) return false;
  const own = lineAt(spectrum, frequencyHz);
  const beside = [-4, -3, 3, 4]
    .map((k) => frequencyHz + k * cageHz)
    .filter((hz) => hz > cageHz / 2)
    .map((hz) => lineAt(spectrum, hz))
    .map((line) => (line.evidence >= LINE_PRESENT ? line.depth : 0))
    .sort((a, b) => a - b);
  return beside[Math.floor((beside.length - 1) / 2)]! >= 0.6 * own.depth;
}

/** What is left of a family's comb when lines that are explained otherwise do not count. */
export function residualComb(
  spectrum: EnvelopeLines,
  comb: Comb,
  harmonics: number,
  taken: (frequencyHz: number) => boolean,
): Comb | null {
  return bestComb(spectrum, {
    fromHz: comb.fundamentalHz * 0.997,
    toHz: comb.fundamentalHz * 1.003,
    harmonics,
    taken,
  });
}

/**
 * The deepest comb at any other frequency that nothing known explains, from a quarter of the shaft's speed up.
 * If it is about as deep as a bearing's comb, the bearing's may be part of it, or as accidental.
 */
export function strongestUnexplained(
  spectrum: EnvelopeLines,
  shaftHz: number,
  harmonics: number,
  taken: (frequencyHz: number) => boolean,
): Comb | null {
  const reachHz = (spectrum.evidence.length - 1) * spectrum.stepHz;
  let best: Comb | null = null;
  const first = Math.max(4, Math.ceil((0.25 * shaftHz) / spectrum.stepHz));
  for (let k = first; 2 * k * spectrum.stepHz <= reachHz; k++) {
    if (spectrum.evidence[k]! < LINE_PRESENT) continue;
    const hz = k * spectrum.stepHz;
    if (taken(hz)) continue;
    const comb = combAt(spectrum, hz, Math.min(harmonics, Math.floor(reachHz / hz)), taken);
    if (comb !== null && (best === null || comb.depth > best.depth)) best = comb;
  }
  return best;
}
