import type { AlertRule } from './alarm-chain.ts';
import type { Baseline } from './baseline.ts';
import { CLEAR_SHARE, falseAlarmsPerYear, limitForRate } from './false-alarms.ts';
import { levelDb, ratioOfDb } from './robust.ts';

/**
 * What counts as a significant change.
 *
 * `stationary` (lift, bench, machines standing on their foundation): a change of 25 % of the B/C zone boundary, after
 * ISO 20816-1 (from memory), or what the own scatter needs where that is more.
 * `own-spread` (road runs, band levels, any value without zones): what the own scatter needs to keep false alarms at
 * the wanted rate, and never less than `leastChangeDb`.
 */
export type ChangeCriterion =
  | { kind: 'stationary'; boundaryBc: number }
  | { kind: 'own-spread'; leastChangeDb?: number };

/** 2 dB = 26 %: a smaller change may be real and still means nothing. By analogy with the 25 % criterion; no source. */
export const LEAST_CHANGE_DB = 2;

export interface AlertWish {
  /** False alarms a year that are put up with, for each watched value. */
  falseAlarmsPerYear: number;
  runsPerYear: number;
  rule?: AlertRule;
  /** Likeness of consecutive runs. */
  lag1?: number;
}

export interface Limits {
  /** Above this a run counts towards raising, in the value's unit. */
  raiseAbove: number;
  /** Below this a run counts towards clearing. */
  clearBelow: number;
  /** Which part of the criterion set the limit. */
  basis: 'own-spread' | 'least-change' | 'quarter-of-boundary' | 'zone-boundary';
  /**
   * Expected false alarms a year with this limit, at this measuring rate, as long as nothing has changed.
   * Null for a zone that the baseline itself already reaches: that alert would not be false.
   */
  falseAlarmsPerYear: number | null;
}

/** Limits of the alert "changed against its own baseline". */
export function changeLimits(known: Baseline, criterion: ChangeCriterion, wish: AlertWish): Limits {
  const design = { ...wish, baselineRuns: known.runs };
  const ownDb = limitForRate(wish.falseAlarmsPerYear, design) * known.spreadDb;
  const leastDb =
    criterion.kind === 'stationary'
      ? levelDb(known.median + 0.25 * criterion.boundaryBc, known.median)
      : (criterion.leastChangeDb ?? LEAST_CHANGE_DB);
  const raiseDb = Math.max(ownDb, leastDb);
  const least = criterion.kind === 'stationary' ? 'quarter-of-boundary' : 'least-change';
  return {
    raiseAbove: known.median * ratioOfDb(raiseDb),
    clearBelow: known.median * ratioOfDb(CLEAR_SHARE * raiseDb),
    basis: ownDb > leastDb ? 'own-spread' : least,
    falseAlarmsPerYear: falseAlarmsPerYear({ ...design, limitSd: raiseDb / known.spreadDb }),
  };
}

/** A zone is left again only this far below its boundary, dB (11 %); common practice, no source. */
const ZONE_HYSTERESIS_DB = 1;

/** Limits of the alert "in this zone or above". The rate is that of runs which scatter about an unchanged baseline. */
export function zoneLimits(boundary: number, known: Baseline | null, wish: AlertWish): Limits {
  const marginDb = known === null ? 0 : levelDb(boundary, known.median);
  return {
    raiseAbove: boundary,
    clearBelow: boundary / ratioOfDb(ZONE_HYSTERESIS_DB),
    basis: 'zone-boundary',
    falseAlarmsPerYear:
      known === null || marginDb <= 0
        ? null
        : falseAlarmsPerYear({ ...wish, baselineRuns: known.runs, limitSd: marginDb / known.spreadDb }),
  };
}
