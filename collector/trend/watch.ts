import type { AlertState } from './alert.ts';
import { observe, QUIET, stepAlert } from './alert.ts';
import {
  BASELINE_RULES,
  type Baseline,
  type BaselineRules,
  baseline,
  type Level,
  type NoBaseline,
} from './baseline.ts';
import { wasRunning } from './condition.ts';
import { type AlertWish, type ChangeCriterion, changeLimits, type Limits, zoneLimits } from './limits.ts';

export interface WatchSettings {
  criterion: ChangeCriterion;
  /** Zone boundaries to alert at, e.g. B/C and C/D; none for values without zones. */
  zoneBoundaries: { name: string; value: number }[];
  wish: AlertWish;
  baseline?: BaselineRules;
}

export interface WatchEvent {
  timeMs: number;
  /** "change", or the name of the zone boundary. */
  about: string;
  change: 'raised' | 'cleared';
  /** Level of the run that decided it. */
  value: number;
}

export interface Watched {
  baseline: Baseline | NoBaseline;
  alerts: { about: string; limits: Limits; state: AlertState }[];
  events: WatchEvent[];
  /** Runs left out because the machine was not running as for its baseline. */
  notRunning: Level[];
}

/**
 * All alerts of one value of one bin and stretch (or of a trend index), from its runs. Worked out anew from the runs
 * each time: it is cheap, and a late or withdrawn run changes the answer as it should.
 *
 * Zones are absolute and are watched from the first run on; change is watched after the baseline.
 *
 * @param levels accepted runs, in order of time
 */
export function watchLevels(levels: readonly Level[], settings: WatchSettings): Watched {
  const found = baseline(levels, settings.baseline ?? BASELINE_RULES);
  const known = found.known ? found : null;
  const events: WatchEvent[] = [];
  const running = known === null ? levels : levels.filter(({ value }) => wasRunning(value, known.median));
  const follow = (about: string, limits: Limits, fromMs: number) => {
    let state = QUIET;
    for (const { timeMs, value } of running) {
      if (timeMs < fromMs) continue;
      const step = stepAlert(state, observe(value, limits), timeMs, settings.wish.rule);
      state = step.state;
      if (step.change !== null) events.push({ timeMs, about, change: step.change, value });
    }
    return { about, limits, state };
  };
  const alerts = settings.zoneBoundaries.map(({ name, value }) =>
    follow(name, zoneLimits(value, known, settings.wish), Number.NEGATIVE_INFINITY),
  );
  if (known !== null) {
    const limits = changeLimits(known, settings.criterion, settings.wish);
    alerts.unshift(follow('change', limits, known.toMs + 1));
  }
  events.sort((a, b) => a.timeMs - b.timeMs);
  return {
    baseline: found,
    alerts,
    events,
    notRunning: levels.filter((level) => !running.includes(level)),
  };
}
