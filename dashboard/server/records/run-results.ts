import type { Database } from 'better-sqlite3';

/** A step of the records file's layout, never edited once released. */
export const RUN_RESULT_TABLES = `
  CREATE TABLE run_results (
    run_id INTEGER NOT NULL REFERENCES runs (id) ON DELETE CASCADE,
    kind TEXT NOT NULL,
    result TEXT NOT NULL,
    PRIMARY KEY (run_id, kind)
  ) STRICT, WITHOUT ROWID;
`;

/** The last result of each kind of a run, as JSON text: kept, because the raw samples it came from may be released. */
export interface RunResults {
  put(runId: number, kind: string, result: unknown): void;
  /** Null when none was made. */
  text(runId: number, kind: string): string | null;
}

export function createRunResults(db: Database, changed: (runId: number) => void): RunResults {
  const put = db.prepare(
    'INSERT INTO run_results VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET result = excluded.result',
  );
  const get = db.prepare('SELECT result FROM run_results WHERE run_id = ? AND kind = ?').pluck();
  return {
    put(runId, kind, result) {
      put.run(runId, kind, JSON.stringify(result));
      changed(runId);
    },
    text: (runId, kind) => (get.get(runId, kind) as string | undefined) ?? null,
  };
}
