/** Twelve weeks of a minibus driven at mixed speeds: comparing unlike with unlike, and like with like. */
import type { Level } from '../../collector/trend/baseline.ts';
import { conditionBin, ROAD_BINS } from '../../collector/trend/condition.ts';
import { gaussian, uniform } from '../../collector/trend/random.ts';
import { ratioOfDb } from '../../collector/trend/robust.ts';
import { type BinLevel, trendIndex } from '../../collector/trend/trend-index.ts';
import { type Watched, watchLevels } from '../../collector/trend/watch.ts';
import { DAY_MS } from './trend-lives.ts';

export interface MixedSpeeds {
  /** Runs as driven: one level for the whole run whatever the speed. */
  unlike: Watched;
  /** Trend index of the bins, each against its own baseline. */
  alike: Watched;
  wearFromMs: number;
}

/**
 * Three runs a week, each in town (25 to 35 km/h) and, for some, on the main road (65 to 75 km/h). Level grows with the
 * square of speed, as forces of imbalance and road do. In weeks 5 to 8 the bus serves the main road nearly always, in
 * the others hardly ever. From `wearFromWeek` on a bearing adds `wearDbPerWeek`.
 */
export function mixedSpeeds(options: {
  seed: number;
  wearFromWeek: number;
  wearDbPerWeek: number;
}): MixedSpeeds {
  const next = uniform(options.seed);
  const gauss = gaussian(next);
  const whole: Level[] = [];
  const binned: BinLevel[] = [];
  const wearFromMs = options.wearFromWeek * 7 * DAY_MS;
  for (let run = 0; run < 36; run++) {
    const timeMs = (run * 7 * DAY_MS) / 3;
    const week = Math.floor(run / 3);
    const wearDb = options.wearDbPerWeek * Math.max(0, (timeMs - wearFromMs) / (7 * DAY_MS));
    const roadShare = week >= 5 && week < 9 ? 0.9 : 0.2;
    const day = 0.5 * gauss();
    const parts = ['town', 'road'].map((kind) => {
      const speedKmH = (kind === 'town' ? 25 : 65) + 10 * next();
      const value = (speedKmH / 30) ** 2 * ratioOfDb(wearDb + day + 0.4 * gauss());
      return { speedKmH, value };
    });
    const mostly = next() < roadShare ? parts[1]! : parts[0]!;
    whole.push({ timeMs, value: mostly.value });
    for (const { speedKmH, value } of parts) {
      const bin = conditionBin(
        { speedKmH: Math.round(speedKmH / 10) * 10, loadPercent: 30, gear: 'D' },
        ROAD_BINS,
      );
      binned.push({ timeMs, bin: bin!, value });
    }
  }
  const watch = (levels: readonly Level[]) =>
    watchLevels(levels, {
      criterion: { kind: 'own-spread' },
      zoneBoundaries: [],
      wish: { falseAlarmsPerYear: 0.1, runsPerYear: 156 },
    });
  return { unlike: watch(whole), alike: watch(trendIndex(binned).points), wearFromMs };
}
