import { randomBytes } from 'node:crypto';
import type Database from 'better-sqlite3';
import { CollectorError } from '../errors.ts';
import type { BlockSpectrum, Reading } from '../model.ts';
import { givesWay, isLeftOut, rowOf } from './reading-row.ts';
import type { ReadingStore, StateRows } from './reading-store.ts';
import { DEFAULT_RETENTION, prepareRetention, type Retention } from './retention.ts';
import { prepareRollups } from './rollups.ts';
import { prepareSpectra } from './spectra.ts';
import { coded, openForWriting } from './sqlite-open.ts';
import { prepareQueries } from './sqlite-queries.ts';

export interface SqliteStoreOptions {
  retention?: Partial<Retention>;
  /** How long a locked file is waited for. Default 5 s. */
  busyMs?: number;
}

/** Opens the readings file as its one writer; a second writer of the same file stops the first. */
export async function openSqliteStore(file: string, options: SqliteStoreOptions = {}): Promise<ReadingStore> {
  const db = openForWriting(file, options.busyMs);
  try {
    return coded(file, () => storeOf(db, file, { ...DEFAULT_RETENTION, ...options.retention }));
  } catch (error) {
    db.close();
    throw error;
  }
}

function storeOf(db: Database.Database, file: string, retention: Retention): ReadingStore {
  const queries = prepareQueries(db);
  const rollups = prepareRollups(db);
  const spectra = prepareSpectra(db);
  const pruner = prepareRetention(db, retention);
  const getMeta = db.prepare<[string]>('SELECT value FROM meta WHERE key = ?').pluck();
  const setMeta = db.prepare(
    'INSERT INTO meta VALUES (?, ?) ON CONFLICT DO UPDATE SET value = excluded.value',
  );
  const insert = db.prepare('INSERT INTO reading VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING');
  const storedFlags = db
    .prepare<[number, number]>('SELECT flags FROM reading WHERE sensor_id = ? AND second = ?')
    .pluck();
  const replace = db.prepare('REPLACE INTO reading VALUES (?, ?, ?, ?, ?)');
  const setState = db.prepare(
    'INSERT INTO pipeline_state VALUES (?, ?) ON CONFLICT DO UPDATE SET json = excluded.json',
  );
  const removeState = db.prepare('DELETE FROM pipeline_state WHERE key = ?');
  const allState = db.prepare<[], [string, string]>('SELECT key, json FROM pipeline_state').raw();

  const token = randomBytes(8).toString('hex');
  setMeta.run('writer', token);

  function put(reading: Reading, spectrum: BlockSpectrum | undefined): void {
    const row = rowOf(reading);
    const sensor = rollups.sensorOf(reading, row.second);
    if (pruner.isPruned(sensor, row.second)) return;
    const values = [sensor, row.second, row.flags, row.axes, row.packed] as const;
    let counts = !isLeftOut(row.flags);
    if (insert.run(...values).changes === 0) {
      const stored = storedFlags.get(sensor, row.second) as number;
      if (!givesWay(stored, row.flags)) return;
      replace.run(...values);
      // Of a second whose time was unknown the spectrum is in already.
      counts &&= isLeftOut(stored);
    }
    if (counts && spectrum !== undefined) spectra.add(sensor, spectrum);
    rollups.touch(sensor, row.second);
    pruner.stored(sensor, row.second);
  }

  const commit = db.transaction(
    (readings: Reading[], position: number, state?: StateRows, blocks: readonly BlockSpectrum[] = []) => {
      if (getMeta.get('writer') !== token) throw new CollectorError('READINGS_TAKEN_OVER', file);
      const spectrumOf = new Map(blocks.map((block) => [blockKey(block), block]));
      for (const reading of readings) put(reading, spectrumOf.get(blockKey(reading)));
      rollups.finish();
      spectra.finish();
      setMeta.run('journalPosition', position);
      for (const [key, json] of state?.set ?? []) setState.run(key, json);
      for (const key of state?.remove ?? []) removeState.run(key);
    },
  );

  const run = async <T>(work: () => T): Promise<T> => coded(file, work);

  return {
    latest: () => run(queries.latest),
    readings: (sensor, fromMs, toMs) => run(() => queries.readings(sensor, fromMs, toMs)),
    series: (query) => run(() => queries.series(query)),
    journalPosition: () => run(() => (getMeta.get('journalPosition') as number | undefined) ?? 0),
    pipelineState: () => run(() => allState.all()),
    spectrum: (sensor, fromMs, toMs) => run(() => queries.spectrum(sensor, fromMs, toMs)),
    nearestSpectrumMs: (...question) => run(() => queries.nearestSpectrumMs(...question)),
    commit: (readings, position, state, blocks) =>
      run(() => {
        try {
          commit.immediate(readings, position, state, blocks);
        } catch (error) {
          rollups.forget();
          spectra.forget();
          throw error;
        }
      }),
    prune: (nowMs) => run(() => pruner.prune(nowMs)),
    close: async () => {
      db.close();
    },
  };
}

function blockKey({ nodeId, sensor, startMs }: Pick<Reading, 'nodeId' | 'sensor' | 'startMs'>): string {
  return `${nodeId}/${sensor}/${startMs}`;
}
