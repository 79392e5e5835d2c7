import { connectionOf } from './connections.ts';
import { MOST_REVERSED } from './lead.ts';
import { NEXT_MEASUREMENTS } from './next-measurement.ts';
import { LEAST_WINDOWS } from './question.ts';
import type { BandRow, Connection, DoubtCode, Evidence, NextMeasurementCode, Verdict } from './result.ts';
import { leadSentence, unclearSentence } from './sentence.ts';
import type { PairLead, Witness } from './witness.ts';

export interface Helpers {
  names: ReadonlyMap<string, string>;
  /** All locations in one wider band. */
  merged: (fromHz: number, toHz: number) => BandRow;
}

/** Fewer bands than this cannot tell a source from a resonance on the path. */
const FEW_BANDS = 3;

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
  const doubts = enough ? doubtsOf(evidence) : (['too-few-windows'] as DoubtCode[]);
  if (leader === null || (byLine === null && doubts.includes('witnesses-differ'))) {
    const next = nextMeasurement(doubts, evidence);
    return {
      ...NOTHING,
      windows: windows.length,
      doubts,
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
    doubts: by === 'defect-line' && byLevel !== null ? (['witnesses-differ'] as DoubtCode[]) : [],
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

/** Why the levels, and the line, do not decide. */
function doubtsOf({ level, defectLine, connections }: Evidence): DoubtCode[] {
  const doubts: DoubtCode[] = [];
  if (level === null) doubts.push('nothing-stands-out');
  else if (level.leaderId === null)
    doubts.push(...level.pairs.filter(({ holds }) => !holds).map((pair) => doubtOf(pair, connections)));
  if (defectLine !== null && (defectLine.witness === null || defectLine.witness.leaderId === null)) {
    doubts.push('line-unclear');
    if (contradicts(defectLine.witness, level)) doubts.push('witnesses-differ');
  }
  return [...new Set(doubts)];
}

/** The line does not decide, but leans clearly to another location than the levels name. */
function contradicts(line: Witness | null, level: Witness | null): boolean {
  return line !== null && level !== null && level.leaderId !== null && line.foremostId !== level.leaderId;
}

function doubtOf(pair: PairLead, connections: readonly Connection[]): DoubtCode {
  if (pair.effectiveBands < FEW_BANDS) return 'few-bands';
  if (pair.reversed > 0 && (pair.reversedShare > MOST_REVERSED || pair.scatterDb > Math.abs(pair.db))) {
    return connectionOf(connections, pair.locationId, pair.againstId)?.kind === 'separate'
      ? 'reversal-separate'
      : 'reversal-shared';
  }
  return 'within-uncertainty';
}

function nextMeasurement(
  doubts: readonly DoubtCode[],
  { quietWindows, level, toleranceDb, connections }: Evidence,
): NextMeasurementCode {
  if (doubts.includes('too-few-windows')) return 'record-longer';
  if (doubts.includes('nothing-stands-out')) return 'mark-noise';
  if (doubts.includes('reversal-separate')) return quietWindows.length === 0 ? 'mark-noise' : 'move-sensor';
  if (doubts.includes('reversal-shared')) return 'tap-path';
  if (doubts.includes('few-bands')) return 'vary-speed';
  const hardest = level?.pairs.filter(({ holds }) => !holds).sort((a, b) => a.db - b.db)[0];
  if (hardest !== undefined && Math.abs(hardest.db) < 1.5 * toleranceDb && hardest.scatterDb < 3)
    return 'swap-sensors';
  if (quietWindows.length === 0) return 'mark-noise';
  return connections.some(({ kind }) => kind === 'unknown') ? 'one-board' : 'move-sensor';
}

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
