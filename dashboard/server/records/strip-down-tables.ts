/** What was found when parts were opened: a step of the records file's layout, never edited once released. */
export const STRIP_DOWN_TABLES = `
  CREATE TABLE strip_downs (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    asset_id INTEGER NOT NULL REFERENCES assets (id) ON DELETE CASCADE,
    location_id INTEGER REFERENCES locations (id) ON DELETE SET NULL,
    opened_ms INTEGER NOT NULL,
    entered_ms INTEGER NOT NULL,
    entered_by TEXT NOT NULL,
    -- What was found, and what had been said before, as JSON: looks are not kept for ever.
    record TEXT NOT NULL
  ) STRICT;
  CREATE INDEX strip_downs_of_asset ON strip_downs (asset_id, opened_ms);
`;
