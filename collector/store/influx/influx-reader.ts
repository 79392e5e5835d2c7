import type { Reading } from '../../model.ts';
import type { ReadingReader, SensorKey, SpectrumReader } from '../reading-store.ts';
import { createInfluxClient, type InfluxClient } from './client.ts';
import { isEmptySpan, latestQuery, pointsQuery, type Span } from './flux-queries.ts';
import type { LevelName } from './layout.ts';
import { type FieldRow, type Point, PointGatherer } from './point-gatherer.ts';
import { rollupOf } from './points-to-rows.ts';
import { readingFrom } from './readings-from-points.ts';
import { influxSeries } from './series.ts';
import { checkInflux, type InfluxSettings } from './settings.ts';

/** All but the spectra, which stay at their station. */
export type RemoteReader = Omit<ReadingReader, keyof SpectrumReader>;

/** Reads the readings of one site, or of all sites that write to the same database. */
export interface InfluxReader extends RemoteReader {
  /** Newest reading of each sensor, by site. */
  latestBySite(): Promise<Map<string, Reading[]>>;
}

/** @param site null for every site: node identities are unique among all of them */
export function openInfluxReader(settings: InfluxSettings, site: string | null): InfluxReader {
  return readerOf(createInfluxClient(checkInflux(settings)), site);
}

export function readerOf(client: InfluxClient, site: string | null): InfluxReader {
  const place = (level: LevelName, { nodeId, sensor }: SensorKey) => ({
    bucket: client.bucket(level),
    level,
    site,
    nodeId,
    sensor,
  });

  async function points(level: LevelName, sensor: SensorKey, span: Span): Promise<Point[]> {
    if (isEmptySpan(span)) return [];
    const gatherer = new PointGatherer();
    for (const row of await client.query<FieldRow>(pointsQuery(place(level, sensor), span)))
      gatherer.add(row);
    return gatherer.points();
  }

  const readings = async (sensor: SensorKey, fromMs: number, toMs: number) =>
    (await points('second', sensor, { fromMs, toMs })).flatMap((point) => readingFrom(sensor, point) ?? []);
  const minutes = async (sensor: SensorKey, fromMs: number, toMs: number) =>
    (await points('minute', sensor, { fromMs, toMs })).flatMap((point) => rollupOf('minute', point) ?? []);

  async function latestBySite(): Promise<Map<string, Reading[]>> {
    const flux = latestQuery({ bucket: client.bucket('second'), level: 'second', site });
    const sensors = new Map<string, { key: SensorKey; site: string; gatherer: PointGatherer }>();
    for (const row of await client.query<FieldRow & { site: string; node: string; sensor: string }>(flux)) {
      const name = `${row.site} ${row.node} ${row.sensor}`;
      let found = sensors.get(name);
      if (found === undefined) {
        const key = { nodeId: row.node, sensor: Number(row.sensor) };
        found = { key, site: row.site, gatherer: new PointGatherer() };
        sensors.set(name, found);
      }
      found.gatherer.add(row);
    }
    const bySite = new Map<string, Reading[]>();
    for (const { key, site: own, gatherer } of sensors.values()) {
      const newest = gatherer
        .points()
        .flatMap((point) => readingFrom(key, point) ?? [])
        .at(-1);
      if (newest) bySite.set(own, [...(bySite.get(own) ?? []), newest]);
    }
    return bySite;
  }

  return {
    latestBySite,
    latest: async () => [...(await latestBySite()).values()].flat(),
    readings,
    series: (query) =>
      influxSeries(query, {
        client,
        place: (level) => place(level, query.sensor),
        readings: (fromMs, toMs) => readings(query.sensor, fromMs, toMs),
        minutes: (fromMs, toMs) => minutes(query.sensor, fromMs, toMs),
      }),
    close: async () => {},
  };
}
