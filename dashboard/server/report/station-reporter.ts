import { analyseSpan, openReadingReader, zoneOf } from '../../../collector/index.ts';
import type { DashboardConfig } from '../config.ts';
import type { RecordStore } from '../records/record-store.ts';
import { directAnalyst, polite } from '../runs/analyst.ts';
import { locationTrend } from '../weeks/location-trend.ts';
import { createReporter, type Reporter } from './reporter.ts';

/** Makes reports from a station's folder, without its server: in this very thread, and only by reading. */
export function openStationReporter(
  records: RecordStore,
  config: Pick<DashboardConfig, 'journalDir' | 'recordingsDir' | 'site'> & { readingsFile: string },
): Reporter & { close(): Promise<void> } {
  const readings = openReadingReader(config.readingsFile);
  const analyst = polite(directAnalyst);
  const now = Date.now;
  const trends = { of: (id: number, query = {}) => locationTrend({ records, analyst, now }, id, query) };
  const reporter = createReporter({
    records,
    readings,
    analyst,
    analyse: analyseSpan,
    trends,
    zoneOf,
    config,
    now,
  });
  return { ...reporter, close: () => readings.close() };
}
