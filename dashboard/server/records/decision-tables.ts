/** Decisions: a step of the records file's layout, never edited once released. */
export const DECISION_TABLES = `
  CREATE TABLE decisions (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    asset_id INTEGER NOT NULL REFERENCES assets (id) ON DELETE CASCADE,
    location_id INTEGER REFERENCES locations (id) ON DELETE SET NULL,
    decided_ms INTEGER NOT NULL,
    decided_by TEXT NOT NULL,
    entered_ms INTEGER NOT NULL,
    entered_by TEXT NOT NULL,
    chosen TEXT NOT NULL,
    -- Figures, what they came to and what had been measured, as JSON.
    record TEXT NOT NULL,
    -- Who refused the safety advice, and the advice word for word.
    refused_by TEXT,
    refused_text TEXT,
    CHECK ((refused_by IS NULL) = (refused_text IS NULL))
  ) STRICT;
  CREATE INDEX decisions_of_asset ON decisions (asset_id, id);
`;
