import { type Doubt, doubtsOf, nextMeasurement } from './doubts.ts';
import { NEXT_MEASUREMENTS } from './next-measurement.ts';
import { LEAST_WINDOWS } from './question.ts';
import type { BandRow, Evidence, Verdict } from './result.ts';
import { leadSentence, unclearSentence } from './sentence.ts';

export interface Helpers {
  names: ReadonlyMap<string, string>;
  /** All locations in one wider band. */
  merged: (fromHz: number, toHz: number) => BandRow;
}

/**
 * Joins the witnesses. A defect's line, where it was asked for and decides, says where that defect sits, also against
 * the levels: a path or another noise can make any location the loudest, but only the defect makes its line.
 */
export function verdict(evidence: Evidence, helpers: Helpers): Verdict {
  const { windows, level, defectLine } = evidence;
  const enough = windows.length >= LEAST_WINDOWS;
  const byLevel = enough ? (level?.leaderId ?? null) : null;
  const byLine = enough ? (defectLine?.witness?.leaderId ?? null) : null;
  const leader = byLine ?? byLevel;
  const doubts: Doubt[] = enough ? doubtsOf(evidence) : [{ code: 'too-few-windows', pair: null }];
  const differ = doubts.some(({ code }) => code === 'witnesses-differ');
  if (leader === null || (byLine === null && differ)) {
    const next = nextMeasurement(doubts, evidence);
    return {
      ...NOTHING,
      windows: windows.length,
      doubts: doubts.map(({ code }) => code),
      nextMeasurement: { code: next, text: NEXT_MEASUREMENTS[next] },
      sentence: unclearSentence(evidence, doubts, next, helpers.names),
    };
  }
  const by = byLine === null ? 'level' : byLevel === byLine ? 'both' : 'defect-line';
  const decided = {
    ...NOTHING,
    kind: 'leads' as const,
    locationId: leader,
    by: by as Verdict['by'],
    windows: windows.length,
    doubts: by === 'defect-line' && byLevel !== null ? (['witnesses-differ'] as Verdict['doubts']) : [],
  };
  const strongest = by === 'defect-line' ? null : strongestBand(evidence.bands, leader, helpers);
  const found =
    strongest === null
      ? decided
      : {
          ...decided,
          bandHz: [strongest.fromHz, strongest.toHz] as [number, number],
          leadDb: strongest.leadDb,
          uncertaintyDb: strongest.uncertaintyDb,
          againstId: runnerUp(strongest, leader),
          windowsLed: strongest.windowsLed,
        };
  return { ...found, sentence: leadSentence(evidence, found, helpers.names) };
}

const NOTHING: Verdict = {
  kind: 'not-clear',
  locationId: null,
  by: null,
  bandHz: null,
  leadDb: null,
  uncertaintyDb: null,
  againstId: null,
  windowsLed: null,
  windows: 0,
  doubts: [],
  nextMeasurement: null,
  sentence: '',
};

/** The run of neighbouring bands, led by this location, that holds most of its power. */
function strongestBand(bands: readonly BandRow[], leader: string, { merged }: Helpers): BandRow | null {
  let best: { from: number; to: number; power: number } | null = null;
  for (let from = 0; from < bands.length; from++) {
    let power = 0;
    for (let to = from; to < bands.length; to++) {
      const band = bands[to]!;
      if (!band.standsOut || band.leaderId !== leader) break;
      power += band.levels.find(({ locationId }) => locationId === leader)!.rmsMPerS2 ** 2;
      if (best === null || power > best.power) best = { from, to, power };
    }
  }
  if (best === null) return null;
  const row = merged(bands[best.from]!.fromHz, bands[best.to]!.toHz);
  return row.leaderId === leader ? row : bands[best.from]!;
}

function runnerUp(row: BandRow, leader: string): string {
  return row.levels
    .filter(({ locationId }) => locationId !== leader)
    .sort((a, b) => b.levelDb - a.levelDb)[0]!.locationId;
}
