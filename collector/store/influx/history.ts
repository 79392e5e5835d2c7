import type { DailyCounts, History, HistoryRows, HistorySource, HistoryTarget } from '../migration-copy.ts';
import { rowOf } from '../reading-row.ts';
import type { SensorKey } from '../reading-store.ts';
import { createInfluxClient, droppedAsTooOld, type InfluxClient } from './client.ts';
import { dailyCountsQuery, pointsQuery, sensorsQuery } from './flux-queries.ts';
import { LEVELS, type LevelName } from './layout.ts';
import { type FieldRow, PointGatherer } from './point-gatherer.ts';
import { rollupOf } from './points-to-rows.ts';
import { readingFrom } from './readings-from-points.ts';
import { linesOf, type MountLookup } from './send-batch.ts';
import { checkInflux, type InfluxSettings } from './settings.ts';

const DAY_S = 86_400;
/** In the year 2262. */
const END_OF_TIME_S = 9_223_372_000;
/** So much is asked for at once: some 100,000 fields. */
const CHUNK_S: Record<LevelName, number> = { second: 3600, minute: DAY_S, hour: 30 * DAY_S };

/** End of the last slot that is over by then. */
function endOf(level: LevelName, untilS: number): number {
  const { lengthS } = LEVELS[level];
  return Math.floor(Math.min(untilS, END_OF_TIME_S) / lengthS) * lengthS;
}

/** One site's readings in InfluxDB as a source and target of copies. */
export function influxHistory(
  settings: InfluxSettings,
  site: string,
  mountOf?: MountLookup,
): HistorySource & HistoryTarget {
  const client = createInfluxClient(checkInflux(settings));
  const questions = questionsTo(client, site);
  return {
    ...questions,
    async *rows(level, sensor, fromSlot, untilS) {
      const { lengthS } = LEVELS[level];
      const days = [...(await questions.counts(level, sensor, untilS)).keys()].sort((a, b) => a - b);
      let doneS = fromSlot * lengthS;
      for (const day of days) {
        while (doneS < (day + 1) * DAY_S) {
          const beginS = Math.max(doneS, day * DAY_S);
          const endS = Math.floor(beginS / CHUNK_S[level] + 1) * CHUNK_S[level];
          doneS = endS;
          const rows = await questions.rows(level, sensor, beginS, Math.min(endS, endOf(level, untilS)));
          if (rows.rows.length > 0) yield rows;
        }
      }
    },
    async put({ nodeId, sensor }, batch) {
      // The same lines as those of the running station: with other tags they would be other points.
      const deps = { site, ...(mountOf ? { mountOf } : {}) };
      const lines =
        batch.level === 'second'
          ? batch.rows.flatMap((row) => linesOf({ nodeId, sensor, level: 'second', row }, deps))
          : batch.rows.flatMap((row) => linesOf({ nodeId, sensor, level: batch.level, row }, deps));
      try {
        await client.write(batch.level, lines);
      } catch (error) {
        // What the bucket keeps no longer is missing in the comparison at the end; the rest of the batch is there.
        if (droppedAsTooOld(error) === null) throw error;
      }
    },
    finish: async () => {},
  };
}

function questionsTo(client: InfluxClient, site: string) {
  const place = (level: LevelName, { nodeId, sensor }: SensorKey) => ({
    bucket: client.bucket(level),
    level,
    site,
    nodeId,
    sensor,
  });
  const history: History = {
    async sensors() {
      const found = new Map<string, SensorKey>();
      for (const level of Object.keys(LEVELS) as LevelName[]) {
        const flux = sensorsQuery({ bucket: client.bucket(level), level, site });
        for (const { node, sensor } of await client.query<{ node: string; sensor: string }>(flux)) {
          found.set(`${node} ${sensor}`, { nodeId: node, sensor: Number(sensor) });
        }
      }
      return [...found.entries()].sort(([a], [b]) => (a < b ? -1 : 1)).map(([, key]) => key);
    },
    async counts(level, sensor, untilS) {
      const counts: DailyCounts = new Map();
      const flux = dailyCountsQuery(place(level, sensor), {
        fromMs: 0,
        toMs: endOf(level, untilS) * 1000,
      });
      for (const { _time, _value } of await client.query<{ _time: string; _value: number }>(flux)) {
        const day = Math.floor(Date.parse(_time) / 1000 / DAY_S);
        counts.set(day, (counts.get(day) ?? 0) + _value);
      }
      return counts;
    },
  };
  return {
    ...history,
    async rows(level: LevelName, sensor: SensorKey, beginS: number, endS: number): Promise<HistoryRows> {
      const gatherer = new PointGatherer();
      const flux = pointsQuery(place(level, sensor), { fromMs: beginS * 1000, toMs: endS * 1000 });
      for (const row of await client.query<FieldRow>(flux)) gatherer.add(row);
      const points = gatherer.points();
      if (level === 'second') {
        const readings = points.flatMap((point) => readingFrom(sensor, point) ?? []);
        return { level, rows: readings.map(rowOf) };
      }
      return { level, rows: points.flatMap((point) => rollupOf(level, point) ?? []) };
    },
  };
}
