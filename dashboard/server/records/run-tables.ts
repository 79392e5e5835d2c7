/** Tables of runs: a step of the records file's layout, never edited once released. */
export const RUN_TABLES = `
  CREATE TABLE runs (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    asset_id INTEGER NOT NULL REFERENCES assets (id) ON DELETE CASCADE,
    kind TEXT NOT NULL CHECK (kind IN ('road', 'lift', 'bench')),
    start_ms INTEGER NOT NULL,
    end_ms INTEGER CHECK (end_ms >= start_ms),
    operator TEXT NOT NULL,
    odometer_km REAL,
    notes TEXT NOT NULL,
    complaint TEXT NOT NULL,
    checks TEXT NOT NULL,
    outcome TEXT CHECK (outcome IN ('reproduced', 'could-not-reproduce', 'aborted')),
    kept INTEGER NOT NULL CHECK (kept IN (0, 1)),
    source TEXT NOT NULL CHECK (source IN ('station', 'import'))
  ) STRICT;
  CREATE INDEX runs_of_asset ON runs (asset_id, start_ms);
  CREATE UNIQUE INDEX one_run_under_way ON runs (asset_id) WHERE end_ms IS NULL;

  CREATE TABLE noise_marks (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    run_id INTEGER NOT NULL REFERENCES runs (id) ON DELETE CASCADE,
    at_ms INTEGER NOT NULL,
    end_ms INTEGER CHECK (end_ms >= at_ms),
    source TEXT NOT NULL CHECK (source IN ('button', 'key', 'node', 'import')),
    note TEXT NOT NULL,
    by_whom TEXT NOT NULL,
    -- Tells a node's message that arrives twice.
    message_key TEXT UNIQUE
  ) STRICT;
  CREATE INDEX noise_marks_of_run ON noise_marks (run_id, at_ms);

  CREATE TABLE manoeuvres (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    run_id INTEGER NOT NULL REFERENCES runs (id) ON DELETE CASCADE,
    manoeuvre TEXT NOT NULL,
    start_ms INTEGER NOT NULL,
    end_ms INTEGER CHECK (end_ms >= start_ms),
    noise TEXT CHECK (noise IN ('present', 'absent', 'unclear')),
    pitch TEXT CHECK (pitch IN ('same', 'changed'))
  ) STRICT;
  CREATE INDEX manoeuvres_of_run ON manoeuvres (run_id, start_ms);

  CREATE TABLE vehicle_values (
    run_id INTEGER NOT NULL REFERENCES runs (id) ON DELETE CASCADE,
    quantity TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    value REAL NOT NULL,
    PRIMARY KEY (run_id, quantity, at_ms)
  ) STRICT, WITHOUT ROWID;

  -- Where each channel of an imported recording was measured, and how to read it.
  CREATE TABLE recorded_channels (
    run_id INTEGER NOT NULL REFERENCES runs (id) ON DELETE CASCADE,
    channel INTEGER NOT NULL,
    location_id INTEGER NOT NULL REFERENCES locations (id) ON DELETE CASCADE,
    axis TEXT NOT NULL,
    board TEXT NOT NULL,
    PRIMARY KEY (run_id, channel)
  ) STRICT, WITHOUT ROWID;
`;

/** Trouble codes that people noted for a run, a JSON list. */
export const TROUBLE_CODE_COLUMN = `
  ALTER TABLE runs ADD COLUMN trouble_codes TEXT NOT NULL DEFAULT '[]';
`;
