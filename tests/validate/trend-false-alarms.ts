/** Alerts of machines on which nothing changes, counted on simulated runs and looks, beside what is stated to people. */
import { FINDING_RULE } from '../../collector/trend/alarm-chain.ts';
import { QUIET, stepAlert } from '../../collector/trend/alert.ts';
import { falseFindingsPerYear } from '../../collector/trend/false-alarms.ts';
import { normalQuantile } from '../../collector/trend/normal.ts';
import { gaussian, uniform } from '../../collector/trend/random.ts';
import { ratioOfDb } from '../../collector/trend/robust.ts';
import { watchLevels } from '../../collector/trend/watch.ts';

/** Scatter from run to run, of standard deviation 1. */
export type Scatter = { name: string; source(seed: number): () => number };

export const gaussianScatter = (lag1: number): Scatter => ({
  name: `Gaussian, likeness ${lag1}`,
  source(seed) {
    const next = gaussian(uniform(seed));
    let value = next();
    return () => {
      value = lag1 * value + Math.sqrt(1 - lag1 * lag1) * next();
      return value;
    };
  },
});

/** Now and then a run is far off: one in twenty has three times the scatter. Scaled to a standard deviation of 1. */
export const wildScatter: Scatter = {
  name: 'one run in twenty three times as wild, likeness 0.3',
  source(seed) {
    const steady = gaussianScatter(0.3).source(seed);
    const chance = uniform(seed + 7_777_777);
    const scale = Math.sqrt(0.95 + 0.05 * 9);
    return () => (steady() * (chance() < 0.05 ? 3 : 1)) / scale;
  },
};

interface Counted {
  /** Mean of what was stated of each station. */
  stated: number;
  /** Raisings a station and year. */
  counted: number;
}

/** Stations of unchanged level, each with a baseline of its own, through the same code as real runs. */
export function countChangeAlarms(options: {
  scatter: Scatter;
  spreadDb: number;
  runsPerYear: number;
  wishPerYear: number;
  stations: number;
}): Counted {
  const { scatter, spreadDb, runsPerYear, wishPerYear, stations } = options;
  let [raised, stated, years] = [0, 0, 0];
  for (let station = 0; station < stations; station++) {
    const next = scatter.source(station + 1);
    const levels = Array.from({ length: 12 + runsPerYear }, (_, k) => ({
      timeMs: k,
      value: ratioOfDb(spreadDb * next()),
    }));
    const watched = watchLevels(levels, {
      criterion: { kind: 'own-spread' },
      zoneBoundaries: [],
      wish: { falseAlarmsPerYear: wishPerYear, runsPerYear },
    });
    if (!watched.baseline.known) continue;
    // A baseline that waited for the level to settle leaves less of the year.
    years += (levels.length - 12 - watched.baseline.passedOver) / runsPerYear;
    raised += watched.events.filter(({ change }) => change === 'raised').length;
    stated += watched.alerts[0]!.limits.falseAlarmsPerYear ?? 0;
  }
  return { stated: stated / stations, counted: raised / years };
}

/** Looks at a sound part, each showing a line by chance, one like the one before. */
export function countFindingAlarms(options: {
  chancePerLook: number;
  looksPerYear: number;
  lag1: number;
  years: number;
}): Counted {
  const { chancePerLook, looksPerYear, lag1, years } = options;
  const limit = normalQuantile(1 - chancePerLook);
  const next = gaussianScatter(lag1).source(looksPerYear);
  let state = QUIET;
  let raised = 0;
  for (let look = 0; look < years * looksPerYear; look++) {
    const step = stepAlert(state, next() > limit ? 'above' : 'below', look, FINDING_RULE);
    state = step.state;
    if (step.change === 'raised') raised += 1;
  }
  const stated = falseFindingsPerYear(chancePerLook, looksPerYear, FINDING_RULE, lag1);
  return { stated, counted: raised / years };
}

export function printFalseAlarms(print: (line: string) => void): void {
  print('False alarms a year: stated to people, and counted on unchanged stations (wish: 0.1)');
  for (const scatter of [gaussianScatter(0.3), gaussianScatter(0), gaussianScatter(0.6), wildScatter]) {
    for (const runsPerYear of [52, 260]) {
      const run = { scatter, spreadDb: 1, runsPerYear, wishPerYear: 0.1, stations: 3_000 };
      const { stated, counted } = countChangeAlarms(run);
      print(
        `  change, ${runsPerYear} runs a year, ${scatter.name}: stated ${stated.toFixed(3)}, counted ${counted.toFixed(3)}`,
      );
    }
  }
  for (const chancePerLook of [1 / 600, 1 / 100]) {
    for (const lag1 of [0.3, 0.6]) {
      const run = { chancePerLook, looksPerYear: 52_560, lag1, years: 400 };
      const { stated, counted } = countFindingAlarms(run);
      print(
        `  finding, chance 1 in ${Math.round(1 / chancePerLook)} a look every ten minutes, likeness ${lag1}: stated ${stated.toFixed(3)}, counted ${counted.toFixed(3)}`,
      );
    }
  }
}
