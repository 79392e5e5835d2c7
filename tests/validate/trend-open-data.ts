/** Run-to-failure tests of open data sets: which bearing is named, and how long before the end. */
import { existsSync, readFileSync } from 'node:fs';
import type { Level } from '../../collector/trend/baseline.ts';
import { comparePeers, type PeerComparison } from '../../collector/trend/peers.ts';
import { levelDb, median } from '../../collector/trend/robust.ts';
import { runSummary } from '../../collector/trend/run-summary.ts';
import { type Watched, watchLevels } from '../../collector/trend/watch.ts';

const folder = new URL('../../../shared/open-data/', import.meta.url);
export const IMS = new URL('ims/ims-test2-levels.csv', folder);
export const FEMTO = new URL('femto/femto-bearing1-1-levels.csv', folder);

export function present(file: URL): boolean {
  return existsSync(file);
}

export interface Columns {
  timeMs: number[];
  /** By heading. */
  values: Record<string, number[]>;
}

/** Reads a table whose first column is a local time or seconds. */
export function readColumns(file: URL): Columns {
  const [head, ...rows] = readFileSync(file, 'utf8').trim().split('\n');
  const cells = rows.map((row) => row.split(','));
  const timeMs = cells.map(([first]) =>
    first!.includes('T') ? Date.parse(`${first}Z`) : Number(first) * 1000,
  );
  const names = head!.split(',').slice(1);
  return {
    timeMs,
    values: Object.fromEntries(
      names.map((name, column) => [name, cells.map((row) => Number(row[column + 1]))]),
    ),
  };
}

/** Every `size` rows make one run; its level is their median. */
export function runs(timeMs: readonly number[], values: readonly number[], size: number): Level[] {
  const levels: Level[] = [];
  for (let from = 0; from < values.length; from += size) {
    const readings = values
      .slice(from, from + size)
      .map((value, k) => ({ timeMs: timeMs[from + k]!, value, flagged: false }));
    const run = runSummary(readings, { leastUsed: Math.min(size, 5), mostLeftOutShare: 0.3 });
    if (run.refused === null) levels.push({ timeMs: run.toMs, value: run.median! });
  }
  return levels;
}

/** The settings of any other value without zones: own spread, one false alarm in ten years. */
export function watch(levels: readonly Level[], runsPerYear: number): Watched {
  return watchLevels(levels, {
    criterion: { kind: 'own-spread' },
    zoneBoundaries: [],
    wish: { falseAlarmsPerYear: 0.1, runsPerYear },
  });
}

/** Change of each location against its own baseline over its last three running runs before `atMs`. */
export function peersAt(
  watched: Record<string, { levels: Level[]; watched: Watched }>,
  atMs: number,
): PeerComparison {
  return comparePeers(
    Object.entries(watched).map(([id, { levels, watched: one }]) => {
      if (!one.baseline.known) throw new RangeError(`${id} has no baseline`);
      const { median: normal, spreadDb } = one.baseline;
      const recent = levels.filter(({ timeMs, value }) => timeMs <= atMs && value > normal / 4).slice(-3);
      return { id, changeDb: levelDb(median(recent.map(({ value }) => value)), normal), spreadDb };
    }),
  );
}

export interface OpenDataRow {
  data: string;
  location: string;
  baseline: number;
  raiseAbove: number;
  /** Hours before the last running row; null when never raised. */
  raisedBeforeEndH: number | null;
  alerts: number;
  notRunning: number;
}

const HOUR_MS = 3_600_000;

export function imsTest2(rowsPerRun: number) {
  const { timeMs, values } = readColumns(IMS);
  const watched = Object.fromEntries(
    Object.entries(values).map(([name, column]) => {
      const levels = runs(timeMs, column, rowsPerRun);
      return [
        name.replace('_mean_abs_g', ''),
        { levels, watched: watch(levels, (365 * 24 * 6) / rowsPerRun) },
      ];
    }),
  );
  // The last two rows are with the machine stopped.
  return { watched, endMs: timeMs.at(-3)!, rows: table('IMS test 2', watched, timeMs.at(-3)!) };
}

export function femtoBearing1() {
  const { timeMs, values } = readColumns(FEMTO);
  const watched = Object.fromEntries(
    ['horizontal_rms_g', 'vertical_rms_g'].map((name) => {
      const levels = runs(timeMs, values[name]!, 30);
      return [name.replace('_rms_g', ''), { levels, watched: watch(levels, 365 * 24 * 12) }];
    }),
  );
  return { watched, endMs: timeMs.at(-1)!, rows: table('FEMTO 1_1', watched, timeMs.at(-1)!) };
}

function table(data: string, watched: Record<string, { watched: Watched }>, endMs: number): OpenDataRow[] {
  return Object.entries(watched).map(([location, { watched: one }]) => {
    const raised = one.events.filter(({ change }) => change === 'raised');
    return {
      data,
      location,
      baseline: one.baseline.known ? one.baseline.median : Number.NaN,
      raiseAbove: one.alerts[0]?.limits.raiseAbove ?? Number.NaN,
      raisedBeforeEndH: raised[0] === undefined ? null : (endMs - raised[0].timeMs) / HOUR_MS,
      alerts: raised.length,
      notRunning: one.notRunning.length,
    };
  });
}
