/** Checks of repairs, and what was found when parts were opened: a step of the records file's layout. */
export const REPAIR_CHECK_TABLES = `
  CREATE TABLE repair_checks (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    asset_id INTEGER NOT NULL REFERENCES assets (id) ON DELETE CASCADE,
    location_id INTEGER NOT NULL REFERENCES locations (id) ON DELETE CASCADE,
    -- The criterion, as JSON.
    criterion TEXT NOT NULL,
    stated_ms INTEGER NOT NULL,
    -- The repair, as an event of the asset: goes when that is removed.
    event_id INTEGER REFERENCES asset_events (id) ON DELETE SET NULL,
    sensor_put_back INTEGER NOT NULL DEFAULT 0,
    -- Runs chosen by hand, as JSON.
    runs TEXT NOT NULL DEFAULT '{"before":null,"after":null}',
    concluded_ms INTEGER,
    concluded_by TEXT,
    result TEXT
  ) STRICT;
  CREATE INDEX repair_checks_of_asset ON repair_checks (asset_id, id);
  CREATE INDEX repair_checks_of_event ON repair_checks (event_id);
`;
