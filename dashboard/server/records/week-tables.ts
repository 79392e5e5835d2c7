/** Levels over weeks: a step of the records file's layout, never edited once released. */
export const WEEK_TABLES = `
  -- What one condition of one run (or of one day of a machine) came to at one location.
  CREATE TABLE period_levels (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    location_id INTEGER NOT NULL REFERENCES locations (id) ON DELETE CASCADE,
    -- Null for a day of a machine.
    run_id INTEGER REFERENCES runs (id) ON DELETE CASCADE,
    from_ms INTEGER NOT NULL,
    to_ms INTEGER NOT NULL,
    bin TEXT NOT NULL,
    -- Readings that were there when it was worked out.
    readings INTEGER NOT NULL,
    -- Value -> summary, as JSON.
    summaries TEXT NOT NULL
  ) STRICT;
  CREATE UNIQUE INDEX one_level_of_a_period ON period_levels (location_id, from_ms, ifnull(run_id, 0), bin);
  CREATE INDEX period_levels_of_run ON period_levels (run_id);

  -- Which runs were worked out, and when it is to be done again because samples may still come.
  CREATE TABLE run_evaluations (
    run_id INTEGER PRIMARY KEY REFERENCES runs (id) ON DELETE CASCADE,
    times INTEGER NOT NULL,
    -- Null: it is done.
    again_ms INTEGER
  ) STRICT;

  -- Runs that a person has left out of trends.
  CREATE TABLE runs_left_out (
    run_id INTEGER PRIMARY KEY REFERENCES runs (id) ON DELETE CASCADE,
    reason TEXT NOT NULL,
    by_whom TEXT NOT NULL
  ) STRICT;

  CREATE TABLE asset_events (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    asset_id INTEGER NOT NULL REFERENCES assets (id) ON DELETE CASCADE,
    at_ms INTEGER NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('repair', 'oil-change', 'new-tyre', 'other', 'note')),
    note TEXT NOT NULL,
    by_whom TEXT NOT NULL
  ) STRICT;
  CREATE INDEX asset_events_of_asset ON asset_events (asset_id, at_ms);
`;
