/** Drive trains and findings: a step of the records file's layout, never edited once released. */
export const FINDING_TABLES = `
  CREATE TABLE drive_trains (
    asset_id INTEGER PRIMARY KEY REFERENCES assets (id) ON DELETE CASCADE,
    train TEXT NOT NULL
  ) STRICT;

  CREATE TABLE findings (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    location_id INTEGER NOT NULL REFERENCES locations (id) ON DELETE CASCADE,
    at_ms INTEGER NOT NULL,
    verdict TEXT NOT NULL,
    -- Since when every look at this location has said so.
    since_ms INTEGER NOT NULL,
    -- Everything else that was said, as JSON.
    record TEXT NOT NULL,
    picture TEXT
  ) STRICT;
  CREATE INDEX findings_of_location ON findings (location_id, id);
`;
