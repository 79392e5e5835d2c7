import type { LevelPoint, LevelSource } from '../../collector/index.ts';
import { openRecordsView } from './records-view.ts';

interface Row extends Omit<LevelPoint, 'isLeftOut' | 'values'> {
  isLeftOut: number;
  summaries: string;
}

/** As in the point's order of values. */
const VALUES = [
  'velocityRmsMmPerS',
  'accelerationRmsMPerS2',
  'accelerationPeakMPerS2',
  'crestFactor',
  'kurtosis',
] as const;

const ROWS = `SELECT l.id, CAST(asset_id AS TEXT) AS asset, CAST(location_id AS TEXT) AS location, bin AS condition,
    ifnull((SELECT kind FROM runs WHERE id = l.run_id), 'day') AS kind, from_ms AS fromMs, to_ms AS toMs, readings,
    summaries, EXISTS (SELECT 1 FROM runs_left_out WHERE run_id = l.run_id) AS isLeftOut
  FROM period_levels AS l JOIN locations ON locations.id = location_id`;

/** What the station's runs came to, condition by condition, as other sites may see it: no names, no notes. */
export function openLevelList(file: string): LevelSource & { close(): void } {
  const after = openRecordsView<[number, number], Row>(file, `${ROWS} WHERE l.id > ? ORDER BY l.id LIMIT ?`);
  const ofRun = openRecordsView<[number], Row>(file, `${ROWS} WHERE l.run_id = ? ORDER BY l.id`);
  const newest = openRecordsView<[], { id: number }>(
    file,
    'SELECT ifnull(max(id), 0) AS id FROM period_levels',
  );
  const leftOut = openRecordsView<[], { id: number }>(file, 'SELECT run_id AS id FROM runs_left_out');
  return {
    after: (id, limit) => (after.statement()?.all(id, limit) ?? []).map(pointOf),
    ofRun: (runId) => (ofRun.statement()?.all(runId) ?? []).map(pointOf),
    newest: () => newest.statement()?.get()?.id ?? 0,
    leftOutRuns: () => (leftOut.statement()?.all() ?? []).map(({ id }) => id),
    close() {
      for (const view of [after, ofRun, newest, leftOut]) view.close();
    },
  };
}

type Summary = LevelPoint['values'][number] & { refused: string | null };

function pointOf({ summaries, isLeftOut, ...row }: Row): LevelPoint {
  const own = JSON.parse(summaries) as Partial<Record<(typeof VALUES)[number], Summary>>;
  return {
    ...row,
    isLeftOut: isLeftOut === 1,
    values: VALUES.map((value) => {
      const summary = own[value];
      // What is no level at the station is none elsewhere.
      if (summary === undefined || summary.refused !== null)
        return { median: null, mad: null, medianSd: null };
      return { median: summary.median, mad: summary.mad, medianSd: summary.medianSd };
    }),
  };
}
