import { connectionOf } from './connections.ts';
import { MOST_REVERSED } from './lead.ts';
import type { Connection, DoubtCode, Evidence, NextMeasurementCode } from './result.ts';
import type { PairLead, Witness } from './witness.ts';

export interface Doubt {
  code: DoubtCode;
  /** The two locations it is about, where it is about two. */
  pair: PairLead | null;
}

/** Fewer bands than this cannot tell a source from a resonance on the path. */
const FEW_BANDS = 3;

/** Why the levels, and the line, do not decide: each reason once, with the pair that is hardest to tell apart. */
export function doubtsOf({ level, defectLine, connections }: Evidence): Doubt[] {
  const doubts: Doubt[] = [];
  if (level === null) doubts.push({ code: 'nothing-stands-out', pair: null });
  else if (level.leaderId === null) {
    for (const pair of level.pairs.filter(({ holds }) => !holds).sort((a, b) => a.db - b.db)) {
      const code = doubtOf(pair, connections);
      if (!doubts.some((other) => other.code === code)) doubts.push({ code, pair });
    }
  }
  if (defectLine !== null && (defectLine.witness === null || defectLine.witness.leaderId === null)) {
    doubts.push({ code: 'line-unclear', pair: null });
    if (contradicts(defectLine.witness, level)) doubts.push({ code: 'witnesses-differ', pair: null });
  }
  return doubts;
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

/** What would settle it, for the first reason that something can be done about. */
export function nextMeasurement(
  doubts: readonly Doubt[],
  { quietWindows, toleranceDb, connections }: Evidence,
): NextMeasurementCode {
  const doubt = (code: DoubtCode) => doubts.find((one) => one.code === code);
  if (doubt('too-few-windows')) return 'record-longer';
  if (doubt('nothing-stands-out')) return 'mark-noise';
  if (doubt('reversal-separate')) return quietWindows.length === 0 ? 'mark-noise' : 'move-sensor';
  if (doubt('reversal-shared')) return 'tap-path';
  if (doubt('few-bands')) return 'vary-speed';
  const close = doubt('within-uncertainty')?.pair;
  if (close && Math.abs(close.db) < 1.5 * toleranceDb && close.scatterDb < 3) return 'swap-sensors';
  if (quietWindows.length === 0) return 'mark-noise';
  return connections.some(({ kind }) => kind === 'unknown') ? 'one-board' : 'move-sensor';
}
