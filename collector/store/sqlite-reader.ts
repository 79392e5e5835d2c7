import type Database from 'better-sqlite3';
import type { ReadingReader } from './reading-store.ts';
import { coded, openForReading } from './sqlite-open.ts';
import { prepareQueries, type Queries } from './sqlite-queries.ts';

const EMPTY: Queries = {
  latest: () => [],
  readings: () => [],
  series: () => ({ timeMs: [], value: [], minimum: [], maximum: [], count: [], flagged: [] }),
  spectrum: () => null,
  nearestSpectrumMs: () => null,
};

/**
 * Reads the readings file while a collector, in this or another process, writes it. A file that does not exist
 * yet reads as empty and is looked for again with every question.
 */
export function openReadingReader(file: string): ReadingReader {
  let db: Database.Database | null = null;
  let queries: Queries | null = null;

  function ask<T>(question: (queries: Queries) => T): T {
    if (queries === null) {
      db = openForReading(file);
      if (db === null) return question(EMPTY);
      const opened = db;
      queries = coded(file, () => prepareQueries(opened));
    }
    const ready = queries;
    return coded(file, () => question(ready));
  }

  return {
    latest: async () => ask((q) => q.latest()),
    readings: async (sensor, fromMs, toMs) => ask((q) => q.readings(sensor, fromMs, toMs)),
    series: async (query) => ask((q) => q.series(query)),
    spectrum: async (sensor, fromMs, toMs) => ask((q) => q.spectrum(sensor, fromMs, toMs)),
    nearestSpectrumMs: async (...question) => ask((q) => q.nearestSpectrumMs(...question)),
    close: async () => {
      db?.close();
      db = null;
      queries = null;
    },
  };
}
