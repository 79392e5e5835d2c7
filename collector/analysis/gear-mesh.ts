import { jointEvidence } from './background.ts';
import { type CombLine, LINE_PRESENT, lineAt } from './comb.ts';
import { recordLines } from './envelope-bank.ts';
import { ALARM, type Finding, statedChance } from './finding.ts';

export interface GearPair {
  name: string;
  /** Teeth x shaft speed. */
  meshHz: number;
  /** The two shafts, whose turning may modulate the mesh. */
  shafts: { name: string; hz: number }[];
}

export interface MeshLines {
  pair: string;
  meshHz: number;
  /** Root of the summed power of the mesh's harmonics, m/s² RMS. */
  meshRmsMPerS2: number;
  harmonics: number;
  /** Sidebands at each shaft's speed: their RMS over the mesh's, and how many stand out. */
  sidebands: { shaft: string; share: number; present: number; falseAlarmProbability: number }[];
}

const HARMONICS = 3;
const SIDEBANDS = 3;
/** Sidebands that together reach half the mesh's level call for a look (common practice, no source). */
const NOTABLE_SHARE = 0.5;

/** Mesh lines of a gear pair and their sidebands: what modulates the mesh points to the shaft the trouble turns with. */
export function meshLines(samples: Float64Array, sampleRateHz: number, pair: GearPair): MeshLines | null {
  const slowest = Math.min(...pair.shafts.map((shaft) => shaft.hz));
  const harmonics = Math.min(HARMONICS, Math.floor((0.45 * sampleRateHz) / pair.meshHz));
  if (harmonics < 1 || !(slowest > 0)) return null;
  const topHz = harmonics * pair.meshHz + (SIDEBANDS + 1) * Math.max(...pair.shafts.map((shaft) => shaft.hz));
  const spectrum = recordLines(samples, sampleRateHz, { topHz, lineSpacingHz: slowest });
  if (spectrum.stepHz > slowest / 8) return null;
  const each = Array.from({ length: harmonics }, (_, h) => (h + 1) * pair.meshHz);
  const mesh = each
    .map((hz) => lineAt(spectrum, hz))
    .filter((line) => line.evidence >= LINE_PRESENT + Math.log(HARMONICS));
  const power = sumOfSquares(mesh);
  const sidebands = pair.shafts.map((shaft) => {
    const lines = each.flatMap((hz) =>
      [-3, -2, -1, 1, 2, 3].map((k) => hz + k * shaft.hz).map((place) => lineAt(spectrum, place)),
    );
    const evidence = lines.map((line) => line.evidence);
    // As for bearings: one foreign line may stand at any of the places by accident.
    const rest = evidence.reduce((s, v) => s + v, 0) - Math.max(...evidence);
    const surprise = jointEvidence(rest, lines.length - 1) - Math.log(pair.shafts.length);
    const present = lines.filter((line) => line.evidence >= LINE_PRESENT);
    return {
      shaft: shaft.name,
      share: power === 0 ? 0 : Math.sqrt(sumOfSquares(present) / power),
      present: present.length,
      falseAlarmProbability: statedChance(surprise),
    };
  });
  return {
    pair: pair.name,
    meshHz: pair.meshHz,
    meshRmsMPerS2: Math.sqrt(power / 2),
    harmonics: mesh.length,
    sidebands,
  };
}

function sumOfSquares(lines: CombLine[]): number {
  return lines.reduce((sum, line) => sum + line.depth ** 2, 0);
}

/** A finding where the sidebands of one shaft are strong beside the mesh itself. */
export function meshFinding(mesh: MeshLines): Finding | null {
  const strongest = mesh.sidebands.reduce((best, side) => (side.share > best.share ? side : best));
  if (mesh.harmonics === 0 || strongest.share < NOTABLE_SHARE) return null;
  if (-Math.log(strongest.falseAlarmProbability) < ALARM) return null;
  const percent = Math.round(strongest.share * 100);
  return {
    kind: 'gear-mesh',
    frequencyHz: mesh.meshHz,
    expectedHz: mesh.meshHz,
    harmonics: mesh.harmonics,
    falseAlarmProbability: strongest.falseAlarmProbability,
    rivals: [],
    modulationDepth: null,
    bandHz: null,
    note:
      `mesh of ${mesh.pair} with sidebands at the speed of ${strongest.shaft}, ${percent} % of the mesh's level: ` +
      'a damaged tooth or an eccentric gear there does this, and so does load that swings with the turn',
  };
}
