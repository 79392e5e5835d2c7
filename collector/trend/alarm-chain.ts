/** An alert with persistence and hysteresis as a Markov chain: how many raisings to expect of unchanged runs. */
import { bivariateUpperTail, normalUpperTail } from './normal.ts';

/** Persistence and hysteresis of an alert. */
export interface AlertRule {
  /** Raised when this many ... */
  raiseRuns: number;
  /** ... of this many last runs lie above the raising limit (at most 8). */
  ofRuns: number;
  /** Cleared after this many runs in a row below the clearing limit. */
  clearRuns: number;
}

/** One wild run raises nothing; a real change is seen at its second run. */
export const ALERT_RULE: AlertRule = { raiseRuns: 2, ofRuns: 3, clearRuns: 3 };

/** Looks for findings come every ten minutes and take one part for another now and then: more of them must agree. */
export const FINDING_RULE: AlertRule = { raiseRuns: 3, ofRuns: 4, clearRuns: 6 };

/** Runs after which the chain has long settled; later runs count like the last of these. */
const SETTLED_AFTER = 400;
/** Expected raisings over `runs` runs, starting quiet, with limits in true spreads above the true middle. */
export function expectedRaisings(
  raise: number,
  clear: number,
  runs: number,
  rule: AlertRule,
  lag1: number,
): number {
  const next = classChances(raise, clear, lag1);
  const histories = 1 << (rule.ofRuns - 1);
  // Quiet states: last class + 3 x history of exceedances. Raised states behind: last class + 3 x runs below so far.
  const quietStates = 3 * histories;
  let state = new Float64Array(quietStates + 3 * rule.clearRuns);
  // Before the first run: below, with no history.
  state[0] = 1;
  let expected = 0;
  let raisedThisRun = 0;
  const steps = Math.min(runs, SETTLED_AFTER);
  for (let run = 0; run < steps; run++) {
    const after = new Float64Array(state.length);
    raisedThisRun = 0;
    for (let from = 0; from < state.length; from++) {
      const share = state[from]!;
      if (share < 1e-18) continue;
      const count = Math.floor((from < quietStates ? from : from - quietStates) / 3);
      for (let to = 0; to < 3; to++) {
        const chance = share * next[from % 3]![to]!;
        if (from >= quietStates) {
          const below = to === 0 ? count + 1 : 0;
          if (below === rule.clearRuns) after[0]! += chance;
          else after[quietStates + 3 * below + to]! += chance;
        } else {
          const history = (count << 1) | (to === 2 ? 1 : 0);
          if (bits(history) >= rule.raiseRuns) {
            raisedThisRun += chance;
            after[quietStates + to]! += chance;
          } else after[3 * (history & (histories - 1)) + to]! += chance;
        }
      }
    }
    expected += raisedThisRun;
    state = after;
  }
  return expected + (runs - steps) * raisedThisRun;
}

/** Chance of the next run's class (0 below, 1 between, 2 above) given this run's. */
function classChances(raise: number, clear: number, lag1: number): number[][] {
  const edges = [-Infinity, clear, raise, Infinity];
  const above = (a: number, b: number) => bivariateUpperTail(a, b, lag1);
  return [0, 1, 2].map((from) => {
    const [a, b] = [edges[from]!, edges[from + 1]!];
    const own = normalUpperTail(a) - normalUpperTail(b);
    const cells = [0, 1, 2].map((to) => {
      const [c, d] = [edges[to]!, edges[to + 1]!];
      return Math.max(0, above(a, c) - above(b, c) - above(a, d) + above(b, d));
    });
    const sum = cells.reduce((total, cell) => total + cell, 0);
    // A class that is never visited needs no true chances, only ones that add up.
    return own < 1e-15 || sum <= 0 ? [1, 0, 0] : cells.map((cell) => cell / sum);
  });
}

function bits(value: number): number {
  let count = 0;
  for (let rest = value; rest > 0; rest &= rest - 1) count++;
  return count;
}
