import { ALERT_RULE, type AlertRule } from './alarm-chain.ts';
import type { Limits } from './limits.ts';

/** Where one run lies: `above` the raising limit, `below` the clearing limit, or `between`. */
export type Observed = 'above' | 'between' | 'below';

export interface AlertState {
  raised: boolean;
  /** When it was raised; null while quiet. */
  sinceMs: number | null;
  /** Of the last runs while quiet, oldest first: above the raising limit or not. */
  recent: boolean[];
  /** Runs in a row below the clearing limit while raised. */
  belowInARow: number;
}

export type AlertChange = 'raised' | 'cleared' | null;

export const QUIET: AlertState = { raised: false, sinceMs: null, recent: [], belowInARow: 0 };

/** Level of a run against limits. */
export function observe(value: number, limits: Pick<Limits, 'raiseAbove' | 'clearBelow'>): Observed {
  if (value > limits.raiseAbove) return 'above';
  return value < limits.clearBelow ? 'below' : 'between';
}

/**
 * One run further. Pure: the same state and run give the same answer, and the state is plain data that can be stored.
 *
 * Raised when `raiseRuns` of the last `ofRuns` runs lie above the raising limit; cleared after `clearRuns` runs in a
 * row below the clearing limit, and then the runs before count no more. For a finding, `above` means "the run shows
 * it" and `below` that it does not. Only runs that may be compared are fed in: same stretch, accepted, machine running.
 */
export function stepAlert(
  state: AlertState,
  observed: Observed,
  timeMs: number,
  rule: AlertRule = ALERT_RULE,
): { state: AlertState; change: AlertChange } {
  if (state.raised) {
    const belowInARow = observed === 'below' ? state.belowInARow + 1 : 0;
    if (belowInARow >= rule.clearRuns) return { state: QUIET, change: 'cleared' };
    return { state: { ...state, belowInARow }, change: null };
  }
  const recent = [...state.recent, observed === 'above'].slice(-rule.ofRuns);
  if (recent.filter(Boolean).length >= rule.raiseRuns) {
    return { state: { raised: true, sinceMs: timeMs, recent: [], belowInARow: 0 }, change: 'raised' };
  }
  return { state: { ...state, recent }, change: null };
}
