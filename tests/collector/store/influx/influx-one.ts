import { HIGHEST } from '../../../../collector/store/influx/layout.ts';
import { type Point, PointGatherer } from '../../../../collector/store/influx/point-gatherer.ts';
import { readingFrom } from '../../../../collector/store/influx/readings-from-points.ts';
import type { InfluxSettings } from '../../../../collector/store/influx/settings.ts';
import type { ReadingStore, SensorKey } from '../../../../collector/store/reading-store.ts';

const DATABASE = 'clampline';

type Row = Record<string, number | string | null>;

/** Settings with which the station writes to an InfluxDB 1. */
export function settingsFor(url: string): InfluxSettings {
  return {
    url,
    token: 'none',
    org: '-',
    bucket: '-',
    writePath: `/write?db=${DATABASE}`,
    writeOnly: true,
  };
}

/** Asks an InfluxDB 1 in its own language; times in seconds. */
export async function ask(url: string, q: string): Promise<Row[]> {
  const body = new URLSearchParams({ q, db: DATABASE, epoch: 's' });
  const answer = await fetch(`${url}/query`, { method: 'POST', body });
  const { results } = (await answer.json()) as {
    results: { error?: string; series?: { columns: string[]; values: unknown[][] }[] }[];
  };
  if (results[0]?.error) throw new Error(results[0].error);
  const series = results[0]?.series?.[0];
  return (series?.values ?? []).map((row) =>
    Object.fromEntries(row.map((value, i) => [series!.columns[i], value])),
  );
}

export const createDatabase = (url: string) => ask(url, `CREATE DATABASE ${DATABASE}`);

const TAGS = ['time', 'asset', 'axis', 'location', 'node', 'sensor', 'site'];

/** What the database has of a site's seconds, put together by the code that does it for an InfluxDB 2. */
export function readerOfInfluxOne(url: string, site: string): Pick<ReadingStore, 'latest' | 'readings'> {
  async function sensors(): Promise<SensorKey[]> {
    const rows = await ask(
      url,
      `SELECT left_out, node, sensor FROM reading_1s WHERE site = '${site}' AND axis = '${HIGHEST}'`,
    );
    const found = new Map(rows.map(({ node, sensor }) => [`${node} ${sensor}`, { node, sensor }]));
    return [...found.values()].map(({ node, sensor }) => ({ nodeId: String(node), sensor: Number(sensor) }));
  }

  async function points({ nodeId, sensor }: SensorKey): Promise<Point[]> {
    const where = `site = '${site}' AND node = '${nodeId}' AND sensor = '${sensor}'`;
    const gatherer = new PointGatherer();
    for (const row of await ask(url, `SELECT * FROM reading_1s WHERE ${where}`)) {
      const _time = new Date(Number(row['time']) * 1000).toISOString();
      for (const [name, _value] of Object.entries(row)) {
        if (_value === null || TAGS.includes(name)) continue;
        gatherer.add({ _time, _field: name, _value, axis: String(row['axis']) });
      }
    }
    return gatherer.points();
  }

  const all = async (sensor: SensorKey) =>
    (await points(sensor)).flatMap((point) => readingFrom(sensor, point) ?? []);
  return {
    readings: async (sensor, fromMs, toMs) =>
      (await all(sensor)).filter(({ startMs }) => startMs >= fromMs && startMs < toMs),
    latest: async () =>
      (await Promise.all((await sensors()).map(all))).flatMap((readings) => readings.slice(-1)),
  };
}
